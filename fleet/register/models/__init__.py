"""The rows of horns and of what happened to them, with the plain words these are made from."""

from fleet.register.models.disposals import Disposal
from fleet.register.models.events import FormerNumber, Identification, KindSaid, StandChange, Standing
from fleet.register.models.horns import Horn, HornQuerySet, new_label_code
from fleet.register.models.labels import LabelSheet
from fleet.register.models.photographs import Photograph
from fleet.register.models.places import Place

__all__ = [
    "Disposal",
    "FormerNumber",
    "Horn",
    "HornQuerySet",
    "Identification",
    "KindSaid",
    "LabelSheet",
    "Photograph",
    "Place",
    "StandChange",
    "Standing",
    "new_label_code",
]
