"""The pots of a part: what the scales said, the clock, the stirring, what of each went in, the cup next morning."""

import json
from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from schemas.words import Component, Kind, MovementKind, ReadingSource
from service.operations.pots.ability import ScalesView, scale_numbers, scales_view
from service.operations.pots.job import kept_plan
from service.records.base import known
from service.records.items import Item, Movement
from service.records.journal import Deed, Document, Entry
from service.records.lookups import rows_among
from service.records.materials import Container, Material, Scale, SystemHardener
from service.records.mixes import Closing, CupCheck, Mix, PlannedPour, Pour, Stirring
from service.reports.reading.account import Addition, Applied, CupChecked, PotAccount, StirringDone, Weighing
from service.reports.reading.ground import Ground, deeds_of


def read_pots(ground: Ground) -> tuple[PotAccount, ...]:
    """Every pot of the part and of what was bonded into it, in the order in which they were started."""
    items = ground.of_kind(Kind.MIX)
    ids = [i.id for i in items]
    if not ids:
        return ()
    mixes = {m.item_id: m for m in Mix.select(Mix, SystemHardener).join(SystemHardener).where(Mix.item.in_(ids))}
    frozen = _frozen({m.frozen_id for m in mixes.values()})
    weighings = _weighings(ground, ids)
    stirrings = _grouped(Stirring.select().where(Stirring.mix.in_(ids)).order_by(Stirring.id), ground)
    checks = _grouped(CupCheck.select().where(CupCheck.mix.in_(ids)).order_by(CupCheck.id), ground)
    closings = _grouped(Closing.select().where(Closing.mix.in_(ids)).order_by(Closing.id), ground)
    scales = _scales(mixes)
    accounts = []
    for item in items:
        mix = mixes[item.id]
        sha256, system = frozen[mix.frozen_id]
        hardeners: dict[int, dict[str, Any]] = {h["material"]: h for h in system["hardeners"]}
        own = weighings[item.id]
        closing = closings[item.id][-1] if closings[item.id] else None
        job = kept_plan(mix.plan or {})
        accounts.append(
            PotAccount(
                code=item.code,
                name=item.name,
                state=item.state,
                purpose=mix.purpose,
                system=system["name"],
                system_revision=system["revision"],
                hardener=hardeners[mix.hardener.material_id]["name"],
                frozen_sha256=sha256,
                ratio=mix.ratio,
                tolerance_pct=mix.tolerance_pct,
                separate_cups=mix.separate_cups,
                started_at=mix.started_at,
                contact_at=mix.contact_at,
                temperature_c=mix.temperature_c,
                temperature_of_air=mix.temperature_of_air,
                use_before=mix.use_before,
                life_note=mix.life_note,
                resin_mg=_sum(own, Component.RESIN),
                hardener_mg=_sum(own, Component.HARDENER),
                deviation_pct=mix.deviation_pct,
                uncertainty_pct=mix.uncertainty_pct,
                verdict=mix.verdict,
                weighings=tuple(own),
                additions=_additions(ground, item),
                stirrings=tuple(
                    StirringDone(s.started_at, s.ended_at, s.scraped, s.second_cup) for s in stirrings[item.id]
                ),
                applied=_applied(ground, item),
                cup_kept=closing.cup_kept if closing is not None else None,
                cup_checks=tuple(
                    CupChecked(c.hard, c.hardness, c.hardness_scale, c.occurred_at) for c in checks[item.id]
                ),
                skipped=tuple((mix.plan or {}).get("skipped", ())),
                skipped_why=(mix.plan or {}).get("skipped_why"),
                stir_min=system.get("stir_min"),
                job_plan=None if job is None else job.sentence,
                scales=scales[item.id],
            )
        )
    return tuple(sorted(accounts, key=lambda p: (p.started_at, p.code)))


def _scales(mixes: dict[int, Mix]) -> dict[int, ScalesView]:
    """What the scales of each pot could know of its ratio."""
    pours: dict[int, list[Pour]] = defaultdict(list)
    plans: dict[int, list[PlannedPour]] = defaultdict(list)
    for pour in Pour.select(Pour, Movement).join(Movement).where(Pour.mix.in_(list(mixes))).order_by(Pour.id):
        if pour.movement.cancelled_by_id is None:
            pours[pour.mix_id].append(pour)
    for plan in PlannedPour.select().where(PlannedPour.mix.in_(list(mixes))):
        plans[plan.mix_id].append(plan)
    numbers = {number for mix, row in mixes.items() for number in scale_numbers(row, pours[mix])}
    rows = {row.item_id: row for row in rows_among(Scale, Scale.item, numbers)}
    items = {item.id: item for item in rows_among(Item, Item.id, numbers)}
    return {
        mix: scales_view(
            row, pours=pours[mix], plans=plans[mix], uncertainty_pct=row.uncertainty_pct, rows=rows, items=items
        )
        for mix, row in mixes.items()
    }


def _frozen(documents: Iterable[int]) -> dict[int, tuple[str, dict[str, Any]]]:
    rows = Document.select(Document.id, Document.sha256, Document.content).where(Document.id.in_(set(documents)))
    return {d.id: (d.sha256, json.loads(bytes(d.content))) for d in rows}


def _grouped(rows: Iterable[Any], ground: Ground) -> dict[int, list[Any]]:
    """Rows that stand, by their pot."""
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        if row.deed_id not in ground.corrected:
            found[row.mix_id].append(row)
    return found


def _sum(weighings: list[Weighing], component: Component) -> int:
    return sum(w.net_mg for w in weighings if w.component == component and not w.taken_back)


def _weighings(ground: Ground, ids: list[int]) -> dict[int, list[Weighing]]:
    rows = list(Pour.select(Pour, Movement).join(Movement).where(Pour.mix.in_(ids)).order_by(Pour.id))
    deeds = deeds_of(p.deed_id for p in rows)
    read_back = _read_back(p.deed_id for p in rows)
    containers = {c.item_id: c for c in Container.select(Container, Material).join(Material).where(
        Container.item.in_({p.container_id for p in rows}))}  # fmt: skip
    named = {p.container_id for p in rows} | {p.scale_id for p in rows}
    codes = dict(Item.select(Item.id, Item.code).where(Item.id.in_(named)).tuples())
    found: dict[int, list[Weighing]] = defaultdict(list)
    for p in rows:
        deed: Deed = deeds[p.deed_id]
        found[p.mix_id].append(
            Weighing(
                component=p.component,
                container=codes[p.container_id],
                material=containers[p.container_id].material.name,
                scale=codes[p.scale_id],
                reading_mg=p.reading_mg,
                before_mg=p.before_mg,
                zeroed=p.zeroed,
                emptied_cup_mg=p.emptied_cup_mg,
                net_mg=known(p.movement.amount),
                target_mg=p.target_mg,
                typed=p.source == ReadingSource.TYPED,
                read_back=p.deed_id in read_back,
                correction=p.correction,
                taken_back=p.movement.cancelled_by_id is not None,
                late=deed.late,
                corrected=deed.corrects_id is not None,
                occurred_at=p.occurred_at,
                person=ground.people[deed.person_id],
            )
        )
    return found


def _read_back(deeds: Iterable[int]) -> set[int]:
    """The pours whose typed reading lay far from its target and was read once more."""
    rows = Entry.select(Entry.deed, Entry.body).where(Entry.deed.in_(set(deeds)))
    return {r.deed_id for r in rows if json.loads(r.body).get("asked", {}).get("read_back_mg") is not None}


def _additions(ground: Ground, item: Item) -> tuple[Addition, ...]:
    return tuple(
        Addition(
            container=ground.code(known(m.source_id)),
            material=ground.items[known(m.source_id)].name,
            amount_mg=m.amount,
            occurred_at=m.occurred_at,
        )
        for m in ground.movements
        if m.target_id == item.id and m.kind == MovementKind.ADDITION
    )


def _applied(ground: Ground, item: Item) -> tuple[Applied, ...]:
    """What went into this part and its components; what went into others is theirs."""
    return tuple(
        Applied(
            part=ground.code(m.target_id),
            purpose=m.purpose,
            zone=m.zone,
            amount_mg=m.amount,
            estimated=m.estimated,
            occurred_at=m.occurred_at,
        )
        for m in ground.movements
        if m.source_id == item.id and m.target_id in ground.parts
    )
