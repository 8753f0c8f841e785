"""What blocks the light, and what do we carry?"""
