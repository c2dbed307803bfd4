"""What every table of a TOML file is, whichever file it stands in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict

if TYPE_CHECKING:
    from pydantic import GetJsonSchemaHandler
    from pydantic.json_schema import JsonSchemaValue


class Entry(BaseModel):
    """A table of a file: nothing unknown, nothing changed later, no text where a number belongs.

    What stands in quotes below a key is its description in JSON Schemas. It is read from the source when one is asked
    for, and a model is built when the first file is read with it: most runs need few of them, and no description.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, defer_build=True)

    @classmethod
    def descriptions(cls) -> dict[str, str]:
        """What stands below each key, by its name in Python."""
        found: dict[str, str] = {}
        for one in reversed(cls.__mro__):
            if issubclass(one, Entry):
                found |= _below_keys(one)
        return found

    @classmethod
    def __get_pydantic_json_schema__(cls, core: Any, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        made = handler(core)
        properties = handler.resolve_ref_schema(made)["properties"] if cls.model_fields else {}
        for key, told in cls.descriptions().items():
            if key in cls.model_fields:
                properties[cls.model_fields[key].alias or key].setdefault("description", told)
        return made


def _below_keys(entry: type[Entry]) -> dict[str, str]:
    """The bare texts below the annotated names of a class; none for one that has no source."""
    import ast
    import inspect
    import sys
    from itertools import pairwise

    home = sys.modules.get(entry.__module__)
    tree = ast.parse(inspect.getsource(home)) if home else ast.Module([], [])
    body = next((n.body for n in ast.walk(tree) if isinstance(n, ast.ClassDef) and n.name == entry.__qualname__), [])
    found: dict[str, str] = {}
    for line, below in pairwise(body):
        if isinstance(line, ast.AnnAssign) and isinstance(line.target, ast.Name) and isinstance(below, ast.Expr):
            told = below.value
            if isinstance(told, ast.Constant) and isinstance(told.value, str):
                found[line.target.id] = inspect.cleandoc(told.value)
    return found
