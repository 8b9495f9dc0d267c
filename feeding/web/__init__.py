"""The pages of foods, feeding plans, the next bowl and bottles."""
