"""What each litter's kennel-local day came to: machine rows made from facts alone, so that recomputing an old day gives
the old answer.  Apps add their own aggregates with `contributions.add`."""
