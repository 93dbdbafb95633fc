"""The rows of the record: acts, and where each chain of them ends."""

from fleet.record.models.acts import Act, ActQuerySet, Chain
from fleet.record.models.deeds import Deed, Kind

__all__ = ["Act", "ActQuerySet", "Chain", "Deed", "Kind"]
