"""What does the whole day look like?"""
