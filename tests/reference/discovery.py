"""Gathers the adapters: every module of `tests.reference.adapters` offers FORMULAS, keyed by formula."""

import importlib
import pkgutil
from collections.abc import Callable

from tests.reference import adapters
from tests.reference.inputs import Inputs

Adapter = Callable[[Inputs, str], object]


class DiscoveryError(ValueError):
    """Two adapters for one key, or a module without FORMULAS."""


def find_adapters() -> tuple[dict[str, Adapter], list[str]]:
    """Adapters by formula key, and one sentence for every module that could not be imported."""
    found: dict[str, Adapter] = {}
    problems: list[str] = []
    for module_info in pkgutil.iter_modules(adapters.__path__):
        name = f"{adapters.__name__}.{module_info.name}"
        try:
            module = importlib.import_module(name)
        except (ImportError, SyntaxError) as error:
            problems.append(f"adapter module {module_info.name} cannot be imported: {error}")
            continue
        offered: dict[str, Adapter] | None = getattr(module, "FORMULAS", None)
        if offered is None:
            raise DiscoveryError(f"adapter module {module_info.name} has no FORMULAS")
        doubled = found.keys() & offered.keys()
        if doubled:
            raise DiscoveryError(
                f"{module_info.name} offers keys known already: {', '.join(sorted(doubled))}"
            )
        found.update(offered)
    return found, problems
