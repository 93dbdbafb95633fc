from tests.lent import at_noon, client, elsewhere, lending, today

__all__ = ["at_noon", "client", "elsewhere", "lending", "today"]
