from tests.lent import at_noon, elsewhere, lending, today

__all__ = ["at_noon", "elsewhere", "lending", "today"]
