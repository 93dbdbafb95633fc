from tests.lent import at_noon, today

__all__ = ["at_noon", "today"]
