"""Pages of the cupboard taken along."""

from fleet.late import late

__getattr__ = late(__name__)
