"""The tables of the database, a file a stage; every file here is loaded when Django starts."""

import importlib
import pkgutil

for _module in pkgutil.iter_modules(__path__):
    importlib.import_module(f"{__name__}.{_module.name}")
