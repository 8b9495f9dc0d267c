"""Template tags of the litters app: weights in the carer's unit."""
