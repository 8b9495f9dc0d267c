"""A breeder's core day against the whole running server: real processes, real mail, a clock that is moved."""
