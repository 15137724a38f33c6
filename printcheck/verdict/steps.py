"""What to do next, gentlest first, and the cautions each step needs: read from TOML, a shop's own file on top."""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from printcheck.errors import PrintcheckError
from printcheck.parse import load_toml
from printcheck.verdict.policy import Policy

__all__ = ["Step", "Steps", "load_steps"]

_NEEDED_LADDERS = ("exhausted", "sound", "lost", "scattered")
_FILLS = frozenset({"fill", "toner-pack"})  # those shipped in them, whatever a shop puts there instead
_SOUND = ("sound", "toner-sound")  # ladders of a cartridge that passed
_JOIN = "+"  # between the steps that a ledger notes as one cleaning


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do to a cartridge; `cleaning` where it counts as one."""

    name: str
    title: str
    text: str
    cautions: tuple[str, ...]
    cleaning: bool

    def says(self, text: str) -> bool:
        """Whether `text` is this step's, with anything in place of its names in braces."""
        parts = string.Formatter().parse(self.text)
        pattern = "".join(re.escape(words) + ("" if name is None else ".*") for words, name, _, _ in parts)
        return re.fullmatch(pattern, text, re.DOTALL) is not None


@dataclass(frozen=True)
class Steps:
    """The ladders of steps of a shop.

    Attributes
    ----------
    steps : mapping of str to Step
    ladders : mapping of str to tuple of str
        Names of steps by defect, gentlest first.
    cautions : mapping of str to str
    general : str
        Said last, whenever anything is said.
    defaults : mapping of str to str
        What stands for a name in braces that no measurement gave.
    """

    steps: Mapping[str, Step]
    ladders: Mapping[str, tuple[str, ...]]
    cautions: Mapping[str, str]
    general: str
    defaults: Mapping[str, str]

    @property
    def cleanings(self) -> tuple[str, ...]:
        """Names of the steps that count as a cleaning."""
        return tuple(name for name, step in self.steps.items() if step.cleaning)

    def of(self, *defects: str) -> frozenset[str]:
        """Names of all steps that answer any of `defects`."""
        return frozenset(step for defect in defects for step in self._ladder(defect))

    def _ladder(self, defect: str) -> tuple[str, ...]:
        return self.ladders.get(defect, self.ladders["scattered"])

    def untried(self, defects: Iterable[str], tried: Iterable[str]) -> list[str]:
        """Steps for `defects` less those already `tried`, rung by rung: the gentlest of each defect first."""
        done = set(tried)
        ladders = [[s for s in self._ladder(d) if s not in done] for d in defects]
        rungs = max(map(len, ladders), default=0)
        return list(dict.fromkeys(ladder[rung] for rung in range(rungs) for ladder in ladders if rung < len(ladder)))

    def texts(self, names: Iterable[str], facts: Mapping[str, str]) -> tuple[str, ...]:
        """What to do, in words; every step after the first only if those before did not cure it."""
        values = {**self.defaults, **facts}
        texts = [self.steps[name].text.format_map(values) for name in names]
        return tuple(
            text if number == 0 else f"If that does not cure it: {text[:1].lower()}{text[1:]}"
            for number, text in enumerate(texts)
        )

    def cautions_for(self, names: Iterable[str]) -> tuple[str, ...]:
        """Cautions of the steps, each once, in the order they are needed, and the general one if there is a step."""
        named = list(names)
        once = dict.fromkeys(caution for name in named for caution in self.steps[name].cautions)
        return (*[self.cautions[name] for name in once], self.general) if named else ()

    def cautions_beside(self, text: str, cautions: Iterable[str]) -> tuple[str, ...]:
        """Of a verdict's `cautions` those of its step `text`; all of them where that is no step of these.

        Steps for ink and for toner may say the same: only one with no caution but the verdict's is meant.
        """
        known = tuple(cautions)
        of_each = (self.cautions_for([name]) for name, step in self.steps.items() if step.says(text))
        meant = dict.fromkeys(caution for own in of_each if set(own) <= set(known) for caution in own)
        return tuple(caution for caution in known if caution in meant) or known

    def check_defects(self, policy: Policy) -> None:
        """Raise `PrintcheckError` where a defect of `policy` has no ladder: it would be answered as another is."""
        for row in policy.values():
            if row.defect is not None and row.defect not in self.ladders:
                raise PrintcheckError(
                    f"policy: '{row.measure}.defect' is '{row.defect}', which has no ladder of steps; "
                    f"use one of {', '.join(self.ladders)}"
                )
            if row.defect in _SOUND:
                raise PrintcheckError(
                    f"policy: '{row.measure}.defect' is '{row.defect}', whose steps are those of a sound cartridge; "
                    "use one of the other ladders"
                )

    def check_cleaning(self, name: str) -> str:
        """Return `name` if it is a step that counts as a cleaning; raises `PrintcheckError` otherwise."""
        if name not in self.cleanings:
            raise PrintcheckError(f"'{name}' is no cleaning step; known are {', '.join(self.cleanings)}")
        return name


@lru_cache(maxsize=8)
def load_steps(own: Path | None = None) -> Steps:
    """Load the shipped steps, those of the shop's `own` file over them.

    Raises
    ------
    PrintcheckError
        The file can't be read or names what is in neither file.
    """
    data = tomllib.loads((Path(__file__).parent / "steps.toml").read_text(encoding="utf-8"))
    where = "steps.toml"
    if own is not None:
        where = str(own)
        _merge(data, load_toml(own, "steps"), where)
    steps = {name: _step(name, entry, where) for name, entry in data["steps"].items()}
    made = Steps(
        steps,
        {defect: tuple(names) for defect, names in data["ladders"].items()},
        data["cautions"],
        data["general"],
        data["defaults"],
    )
    _check(made, where)
    return made


def _merge(data: dict[str, Any], changes: dict[str, Any], where: str) -> None:
    texts = ("cautions", "defaults")
    for key, value in changes.items():
        if key not in data or not isinstance(value, type(data[key])):
            raise PrintcheckError(f"steps {where}: '{key}' is no key of a steps file; known are {', '.join(data)}")
        if not isinstance(value, dict):
            if not value.strip():  # the only one that is no table is text
                raise PrintcheckError(f"steps {where}: '{key}' must be text")
            data[key] = value
            continue
        for name, entry in value.items():
            if key == "steps" and isinstance(entry, dict):
                data[key][name] = {**data[key].get(name, {}), **entry}
            elif key == "ladders" and not (isinstance(entry, list) and entry and {type(s) for s in entry} == {str}):
                raise PrintcheckError(f"steps {where}: ladder '{name}' must list at least one step by name")
            elif key in texts and not (isinstance(entry, str) and (entry.strip() or key == "defaults")):
                raise PrintcheckError(f"steps {where}: '{key}.{name}' must be text")
            else:
                data[key][name] = entry


def _step(name: str, entry: object, where: str) -> Step:
    if _JOIN in name or name != name.strip() or not name or not name.isprintable():
        raise PrintcheckError(
            f"steps {where}: '{name}' can't name a step; use printable text without '{_JOIN}', which joins steps"
        )
    if not isinstance(entry, dict) or not isinstance(entry.get("text"), str) or not entry["text"].strip():
        raise PrintcheckError(f"steps {where}: step '{name}' needs a text")
    unknown = entry.keys() - {"title", "text", "cautions", "cleaning"}
    if unknown:
        raise PrintcheckError(f"steps {where}: step '{name}' has no key '{min(unknown)}'")
    cautions = entry.get("cautions", [])
    if not isinstance(cautions, list) or not all(isinstance(caution, str) for caution in cautions):
        raise PrintcheckError(f"steps {where}: the cautions of step '{name}' must be a list of names")
    if not isinstance(entry.get("cleaning", True), bool):
        raise PrintcheckError(f"steps {where}: 'cleaning' of step '{name}' must be true or false")
    if not isinstance(entry.get("title", name), str):
        raise PrintcheckError(f"steps {where}: 'title' of step '{name}' must be text")
    return Step(
        name,
        entry.get("title", name),
        entry["text"],
        tuple(cautions),
        entry.get("cleaning", True),
    )


def _check(steps: Steps, where: str) -> None:
    for defect, names in steps.ladders.items():
        for name in names:
            if name not in steps.steps:
                raise PrintcheckError(f"steps {where}: ladder '{defect}' names '{name}', which is no step")
    for step in steps.steps.values():
        for caution in step.cautions:
            if caution not in steps.cautions:
                raise PrintcheckError(f"steps {where}: step '{step.name}' names '{caution}', which is no caution")
        for field in _fields(step, where):
            if field not in steps.defaults:
                raise PrintcheckError(f"steps {where}: step '{step.name}' uses {{{field}}}, which has no default")
    for defect in _NEEDED_LADDERS:
        if defect not in steps.ladders:
            raise PrintcheckError(f"steps {where}: ladder '{defect}' is missing")
    # a shop may wipe a plate before it fills: what cleans may stand in both
    last = {name for sound in _SOUND for name in steps.ladders.get(sound, ()) if not steps.steps[name].cleaning}
    for defect, names in steps.ladders.items():
        for name in names:
            if defect not in _SOUND and name in last | _FILLS:
                raise PrintcheckError(
                    f"steps {where}: ladder '{defect}' names '{name}', which ends the job of one that passed; "
                    "name a step that cures the fault"
                )


def _fields(step: Step, where: str) -> list[str]:
    """Names in braces in a step's text; anything else in braces would end the program when the text is said."""
    try:
        parts = [part[1:] for part in string.Formatter().parse(step.text) if part[1] is not None]
    except ValueError as error:
        raise PrintcheckError(f"steps {where}: step '{step.name}': {error} in its text") from error
    for field, spec, conversion in parts:
        if spec or conversion or not str(field).isidentifier():
            raise PrintcheckError(
                f"steps {where}: step '{step.name}' has more in braces than a name, at '{field}'; use the name alone"
            )
    return [str(field) for field, _, _ in parts]
