"""Computed reads about litters, pups and dogs: each answer says method, inputs and their age, source and caution."""
