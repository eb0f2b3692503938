"""Carry the state of running rules over to a changed plan, so that no timer that both plans share begins anew."""

from typing import Any, TypeAlias

from stillwell.engine.program import Program

Key: TypeAlias = tuple[Any, ...]


def carried(old: Program, snapshot: dict[str, Any], new: Program) -> dict[str, Any]:
    """Return a snapshot for the new program: what means the same in both keeps its state, the rest starts fresh.

    Two nodes mean the same when their operators are equal and all they work on means the same.
    """
    memory = dict(zip(_keys(old), snapshot["cells"], strict=True))
    return {**snapshot, "cells": [memory.get(key) for key in _keys(new)]}


def _keys(program: Program) -> list[Key]:
    keys: list[Key] = []
    for node in program.nodes:
        keys.append((node.operator, *(keys[child] for child in node.children)))
    return keys
