"""Every page: each module under `pages/` lists its own, and all are gathered here."""

import importlib
import pkgutil

from django.urls import URLPattern

from hidewright.workshop import pages


def _gathered() -> list[URLPattern]:
    """Collect the `urlpatterns` of every module under `pages/`, in the order of their names."""
    modules = [
        importlib.import_module(f"{pages.__name__}.{m.name}") for m in pkgutil.iter_modules(pages.__path__)
    ]
    return [pattern for module in modules for pattern in getattr(module, "urlpatterns", [])]


urlpatterns = _gathered()
