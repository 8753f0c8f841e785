"""How bright is it, in lux, cd/m² and stops?"""
