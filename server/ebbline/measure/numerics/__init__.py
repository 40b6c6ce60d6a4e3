"""Mathematics that knows nothing of cars: least squares, stretches of flags, running means, and a
Gaussian process conditioned on intervals by expectation propagation. Needs arrays; never touches
records of evidence.
"""
