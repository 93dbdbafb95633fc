"""The pages of issuing, alone and in a batch, and of the agreement."""

from fleet.late import late

__getattr__ = late(__name__)
