"""The keys of text that stand beside the models are those of the models."""

from typing import get_args

import pytest
from pydantic import BaseModel

from jobcheck.description.classes import KINDS, _extra, _options
from jobcheck.description.text_keys import TEXT_KEYS


def _key_kinds(kind: str) -> tuple[frozenset[str], frozenset[str]]:
    """Return the keys of a kind whose values are text somewhere, and those of something else."""
    text: set[str] = set()
    other: set[str] = set()
    waiting: list[type[BaseModel]] = [KINDS[kind]]
    seen: set[type[BaseModel]] = set()
    while waiting:
        model = waiting.pop()
        if model in seen:
            continue
        seen.add(model)
        waiting += filter(None, [_extra(model)])
        for name, info in model.model_fields.items():
            for option in _options(info.annotation):
                if isinstance(option, type) and issubclass(option, BaseModel):
                    waiting.append(option)
                elif option is str or isinstance(get_args(option)[:1] or None, tuple):
                    (text if _is_text(option) else other).add(name)
                else:
                    other.add(name)
    return frozenset(text), frozenset(other)


def _is_text(option: object) -> bool:
    return option is str or all(isinstance(choice, str) for choice in get_args(option))


@pytest.mark.parametrize("kind", KINDS)
def test_the_models_hold_text_under_these_keys(kind):
    text, other = _key_kinds(kind)
    assert TEXT_KEYS[kind] == text - other


def test_every_kind_has_its_keys():
    assert set(TEXT_KEYS) == set(KINDS)
