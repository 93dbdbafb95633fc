"""Tells what falls short of an aim from what chance alone does to a share of so many."""

# So seldom a benchmark fails though its aim is just reached.
RARE = 0.001


def short(good: int, of: int, aim: float) -> bool:
    """Whether so few of so many were good that it would come out so less than once in a thousand times where the aim, a
    share, is just reached (the binomial distribution's lower tail)."""
    from scipy.stats import binom

    return bool(binom.cdf(good, of, aim) < RARE)
