"""Every page: the views of every subject list their own addresses, and all are gathered here."""

import importlib
import pkgutil

from django.urls import URLPattern

from hidewright import workshop


def _gathered() -> list[URLPattern]:
    """Collect the `urlpatterns` of every module of views."""
    found = [
        m.name
        for m in pkgutil.walk_packages(workshop.__path__, "hidewright.workshop.")
        if m.name.endswith("views")
    ]
    modules = [importlib.import_module(name) for name in found]
    return [pattern for module in modules for pattern in getattr(module, "urlpatterns", [])]


urlpatterns = _gathered()
handler500 = "hidewright.workshop.frame.full_disk.broke"
