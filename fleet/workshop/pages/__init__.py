"""The bench's pages: a request becomes a form, an action or a page of rows."""

from fleet.late import late

__getattr__ = late(__name__)
