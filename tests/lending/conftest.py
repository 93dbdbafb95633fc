from tests.lent import at_noon, client, elsewhere, lending, out, today

__all__ = ["at_noon", "client", "elsewhere", "lending", "out", "today"]
