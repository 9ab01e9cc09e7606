"""The whole work in steps: skin first, light to dark, neighbours apart until dry, glow last.

The order is common practice, no source: skin while hands and paper are clean; light before dark, since a dark dye
bleeds into a light one; what glows last, so that nothing is carried into it.
"""

from collections.abc import Sequence
from dataclasses import replace

from blendkit.advice.order import FADE, LIFT
from blendkit.inked import Inked
from blendkit.plan.records import OrderMarker, OrderStep, PlanPart
from blendkit.project.records import Project
from blendkit.project.work import Work, material_of

STAGES = ("skin first", "light to dark", "glow last")
BLENDER_TOLD = {
    LIFT: "at the end, once dry, lift the highlight with the colourless blender",
    FADE: "leave white paper where the light falls; while damp, fade the base into it with the colourless blender",
}
NEAR_LIGHTNESS = 15.0
"""L* within which a step may come before a lighter one, so that neighbours dry; own judgement."""


def order_work(
    parts: Sequence[PlanPart], project: Project, inked: Inked, work: Work
) -> tuple[OrderStep, ...]:
    """Put the parts of a plan into working order, those with the same markers in one step.

    Args:
        parts: the plan's parts, in the project's order and numbered so.
        project: the project.
        inked: the drawer on the project's paper.
        work: the project at work, which knows what touches what.
    """
    touching = _touching(work)
    groups: dict[tuple[object, ...], list[PlanPart]] = {}
    for part in parts:
        if part.base is not None:
            names = [None if one is None else one.name for one in (part.base, part.shadow, part.light)]
            key = (_stage(part, project), part.how, *names)
            groups.setdefault(key, []).append(part)
    waiting = sorted(
        ((str(key[0]), own) for key, own in groups.items()),
        key=lambda one: (STAGES.index(one[0]), -_lightness(one[1])),
    )
    steps: list[OrderStep] = []
    before: set[int] = set()
    used: set[str] = set()
    while waiting:
        stage, lightest = waiting[0][0], _lightness(waiting[0][1])
        place = next(
            (
                k
                for k, (own_stage, own) in enumerate(waiting)
                if own_stage == stage
                and lightest - _lightness(own) <= NEAR_LIGHTNESS
                and not before & _beside(own, touching)
            ),
            0,
        )
        stage, own = waiting.pop(place)
        steps.append(_step(len(steps) + 1, stage, own, project, before & _beside(own, touching), used))
        before = {part.number for part in own}
    return tuple(steps)


def number_by_work(
    parts: Sequence[PlanPart], steps: Sequence[OrderStep]
) -> tuple[tuple[PlanPart, ...], tuple[OrderStep, ...]]:
    """Number the parts as they come in the work, those without a marker after them, what is left white last."""
    worked = [number for step in steps for number in step.parts]
    others = sorted(
        (part for part in parts if part.number not in set(worked)), key=lambda one: one.how == "white"
    )
    new = {old: place for place, old in enumerate([*worked, *(part.number for part in others)], 1)}

    def turn(numbers: Sequence[int]) -> tuple[int, ...]:
        return tuple(sorted(new[number] for number in numbers))

    return (
        tuple(replace(part, number=new[part.number]) for part in parts),
        tuple(
            replace(
                step,
                parts=turn(step.parts),
                dry_first=turn(step.dry_first),
                differs=tuple((words, turn(numbers)) for words, numbers in step.differs),
            )
            for step in steps
        ),
    )


def _lightness(own: Sequence[PlanPart]) -> float:
    return max(part.base.lab[0] for part in own if part.base is not None)


def _stage(part: PlanPart, project: Project) -> str:
    material = material_of(project.parts[part.number - 1]).name
    return {"skin": STAGES[0], "glow": STAGES[2]}.get(material, STAGES[1])


def _touching(work: Work) -> dict[int, set[int]]:
    """For each part the parts that share a line with it."""
    part_of = work.part_of()
    beside: dict[int, set[int]] = {}
    for a, b in part_of[work.fronts.pairs].tolist():
        if a and b and a != b:
            beside.setdefault(a, set()).add(b)
            beside.setdefault(b, set()).add(a)
    return beside


def _beside(own: Sequence[PlanPart], touching: dict[int, set[int]]) -> set[int]:
    return {other for part in own for other in touching.get(part.number, set())}


def _step(
    number: int, stage: str, own: Sequence[PlanPart], project: Project, dry: set[int], used: set[str]
) -> OrderStep:
    first = own[0]
    markers = []
    for role, swatch in (("base", first.base), ("shadow", first.shadow), ("light", first.light)):
        if swatch is not None:
            markers.append(OrderMarker(role, swatch, swatch.name not in used))
            used.add(swatch.name)
    return OrderStep(
        number=number,
        stage=stage,
        parts=tuple(part.number for part in own),
        names=tuple(part.name for part in own),
        markers=tuple(markers),
        how=first.how,
        differs=_differs(own, project),
        dry_first=tuple(sorted(dry)),
    )


def _differs(own: Sequence[PlanPart], project: Project) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Where parts differ from the usual method: base, shadow while damp, base again over the edge."""
    told: dict[str, list[int]] = {}
    for part in own:
        asked = project.parts[part.number - 1]
        words = []
        if part.how == "plain":
            words.append("one even coat, no shadow")
        elif part.how == "coats":
            # the base's last step only works the edge
            laid = [step.coat for step in part.steps if part.base and step.marker == part.base.name]
            coats = max(laid[:-1], default=2)
            more = "one more coat" if coats < 3 else "one coat more at a time"
            words.append(
                f"the shadow is more of the base: {more} on the hatched places, each dry before the next, until "
                f"there are {coats} there"
            )
        elif part.how == "under":
            words.append("shadow marker first, base over it once dry")
        elif part.how == "over":
            words.append("shadow marker over the dry base")
        elif asked.order == "dark-first":
            words.append("shadow first, then base over it and out of it")
        if asked.left_toward_light == "light":
            words.append("light marker toward the light, over the damp edge")
        elif asked.blender:
            words.append(BLENDER_TOLD[asked.blender[0]])
        words += list(dict.fromkeys(step.caution for step in part.steps if step.caution))
        if part.note:
            words.append(part.note)
        for one in words:
            told.setdefault(one.rstrip("."), []).append(part.number)
    return tuple((words, tuple(numbers)) for words, numbers in told.items())
