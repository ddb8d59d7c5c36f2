"""A change put in the place of what a running process has loaded, wherever that is held."""

import gc
import sys
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from types import CodeType, FunctionType, ModuleType
from typing import Any

from tests.mutants.changes import Mutant, module_name


class Changed:
    """Puts a mutant in the place of what a module holds: code, defaults and constants, wherever they are held."""

    def __init__(self, path: Path) -> None:
        self.path, self.name = path, module_name(path)
        self.raw = path.read_bytes()
        self.module = sys.modules[self.name]
        self.functions = [
            one for one in gc.get_objects() if isinstance(one, FunctionType) and one.__code__.co_filename == str(path)
        ]

    def put(self, mutant: Mutant) -> None:
        raw = self.raw[: mutant.begin] + mutant.new.encode() + self.raw[mutant.end :]
        whole = compile(raw, str(self.path), "exec")
        codes = dict(_codes(whole))
        fresh = ModuleType(self.name)
        fresh.__file__ = str(self.path)
        there, sys.modules[self.name] = sys.modules[self.name], fresh
        try:
            exec(whole, fresh.__dict__)
        finally:
            sys.modules[self.name] = there
        # Methods of any kind too: whatever was made in the fresh module, by where it stands.
        made = {_place(one): one for one in gc.get_objects() if _is_of(one, fresh)}
        for function in self.functions:
            other = made.get(_place(function))
            if other is not None:
                function.__defaults__, function.__kwdefaults__ = other.__defaults__, other.__kwdefaults__
            code = codes.get((function.__code__.co_qualname, function.__code__.co_firstlineno))
            if code is not None and code.co_freevars == function.__code__.co_freevars:
                function.__code__ = code
        for name, new in fresh.__dict__.items():
            self._replace(name, self.module.__dict__.get(name), new)

    def _replace(self, name: str, old: Any, new: Any) -> None:
        """What stands in the module itself: defaults of functions and of fields, constants here and where imported."""
        if isinstance(old, type) and isinstance(new, type):
            if old.__module__ == self.name:
                _like(old, new)
        elif not name.startswith("__") and not isinstance(new, ModuleType) and not callable(new) and _differs(old, new):
            for module in list(sys.modules.values()):
                if isinstance(module, ModuleType) and module.__dict__.get(name) is old:
                    setattr(module, name, new)


def _is_of(one: Any, module: ModuleType) -> bool:
    return isinstance(one, FunctionType) and one.__globals__ is module.__dict__


def _place(function: FunctionType) -> tuple[str, int]:
    return function.__code__.co_qualname, function.__code__.co_firstlineno


def _differs(old: Any, new: Any) -> bool:
    try:
        return bool(old != new)
    except (TypeError, ValueError):
        return old is not new


def _like(old: type, new: type) -> None:
    """A class takes the defaults and constants of another."""
    for name, value in vars(new).items():
        before = vars(old).get(name)
        if type(value) in (int, float, bool, tuple) and before != value:
            setattr(old, name, value)
    made, other_made = vars(old).get("__init__"), vars(new).get("__init__")
    if is_dataclass(old) and is_dataclass(new) and made is not None and other_made is not None:
        # Where a field has its default from as an instance is made.
        pairs = zip(made.__defaults__ or (), other_made.__defaults__ or (), strict=True)
        made.__defaults__ = tuple(two if type(two) in (int, float, bool) else one for one, two in pairs)
    if is_dataclass(old) and is_dataclass(new):
        for one, other in zip(fields(old), fields(new), strict=True):
            one.default = other.default


def _codes(code: CodeType) -> Iterator[tuple[tuple[str, int], CodeType]]:
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield (constant.co_qualname, constant.co_firstlineno), constant
            yield from _codes(constant)
