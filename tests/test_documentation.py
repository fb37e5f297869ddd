"""Every example in a docstring runs, and everything public is documented."""

import dataclasses
import doctest
import importlib
import inspect
import pkgutil
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
PACKAGES = PROJECT["tool"]["setuptools"]["packages"]


def walk():
    """Return every module of every package that pyproject.toml lists, once."""
    found = {}
    for package in PACKAGES:
        home = importlib.import_module(package)
        found[package] = home
        for entry in pkgutil.iter_modules(home.__path__):
            name = f"{package}.{entry.name}"
            # An editable install shows the terminal's folder a second time.
            if not entry.ispkg and entry.name != "__main__":
                found[name] = importlib.import_module(name)
    return list(found.values())


MODULES = walk()


def public_functions(module):
    """Return the functions and methods that a module shows, with their names."""
    for name, thing in vars(module).items():
        if name.startswith("_") or getattr(thing, "__module__", "") != module.__name__:
            continue
        if inspect.isfunction(thing):
            yield name, thing
        elif inspect.isclass(thing):
            for inner, method in vars(thing).items():
                if inspect.isfunction(method) and not inner.startswith("_"):
                    yield f"{name}.{inner}", method


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.__name__)
def test_examples(module):
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.__name__)
def test_a_module_says_what_it_is_for(module):
    assert (module.__doc__ or "").strip()


@pytest.mark.parametrize("package", PACKAGES)
def test_public_names_exist_and_are_documented(package):
    module = importlib.import_module(package)
    for name in getattr(module, "__all__", []):
        thing = getattr(module, name)
        if inspect.isroutine(thing) or inspect.isclass(thing):
            assert inspect.getdoc(thing), name


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.__name__)
def test_public_functions_have_docstrings(module):
    for name, function in public_functions(module):
        assert inspect.getdoc(function), name


@pytest.mark.parametrize("package", PACKAGES)
def test_exported_functions_have_numpydoc_sections(package):
    """What goes in and what comes out, with shapes and units, in its own section."""
    module = importlib.import_module(package)
    for name in getattr(module, "__all__", []):
        function = getattr(module, name)
        if not inspect.isfunction(function):
            continue
        document = inspect.getdoc(function) or ""
        signature = inspect.signature(function)
        if signature.parameters:
            assert re.search(r"^Parameters\n-{10}$", document, re.M), name
        if signature.return_annotation not in (None, "None"):
            assert re.search(r"^(Returns\n-{7}|Yields\n-{6})$", document, re.M), name
        for parameter in signature.parameters:
            assert re.search(rf"\b{parameter}\b", document), f"{name}: {parameter}"


@pytest.mark.parametrize("package", PACKAGES)
def test_every_exported_dataclass_is_frozen(package):
    module = importlib.import_module(package)
    for name in getattr(module, "__all__", []):
        thing = getattr(module, name)
        if inspect.isclass(thing) and dataclasses.is_dataclass(thing):
            assert thing.__dataclass_params__.frozen, thing
