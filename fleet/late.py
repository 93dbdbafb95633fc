"""Pages read when somebody first asks for one: a worker that starts would wait for all of them, and hold them all."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from importlib.util import find_spec
from typing import Any


class LatePage:
    """A page function that stands in a module not read yet. Answers as the function does."""

    def __init__(self, module: str, name: str) -> None:
        self.module, self.name = module, name

    @property
    def __wrapped__(self) -> Callable[..., Any]:
        page: Callable[..., Any] = getattr(import_module(self.module), self.name)
        return page

    @property
    def csrf_exempt(self) -> bool:
        """Asked before the page is: one that says what is uploaded to it looks at the form's proof by itself."""
        return getattr(self.__wrapped__, "csrf_exempt", False)

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        return self.__wrapped__(*args, **kwargs)


class LatePages:
    """A module of pages not read yet: whatever is taken from it is a page."""

    def __init__(self, module: str) -> None:
        self.module = module

    def __getattr__(self, name: str) -> LatePage:
        return LatePage(self.module, name)


def late(package: str) -> Callable[[str], LatePages]:
    """The `__getattr__` of a package of pages: `from fleet.reports.pages import counts` reads none of them.

    Whatever looks at the source, for types or for borders, sees an import like any other. Only addresses are put
    together so: what pages lend to others is taken by name, which reads them
    (`from fleet.exchange.pages.as_files import as_file`).
    """

    def module(name: str) -> LatePages:
        if name.startswith("__") or find_spec(whole := f"{package}.{name}") is None:
            raise AttributeError(f"{package} has no {name}.")
        return LatePages(whole)

    return module
