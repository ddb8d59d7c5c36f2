"""The pots of a part: what the scales said, the clock, the stirring, what of each went in, the cup next morning."""

import json
from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from schemas.words import Kind, MixState, MovementKind, Purpose, ReadingSource, Verdict
from service.operations.door.formerly import Formerly
from service.operations.pots.ability import scales_of
from service.operations.pots.catalysts import CAUTIONS
from service.operations.pots.job import kept_plan
from service.operations.pots.peroxide import told_catalyst
from service.operations.pots.pot import Pot, load_pots
from service.records.base import as_word, known
from service.records.items import Item
from service.records.journal import Deed, Entry
from service.records.materials import Container, Material
from service.records.mixes import Closing, CupCheck
from service.reports.reading.account import Addition, Applied, CupChecked, PotAccount, StirringDone, Weighing
from service.reports.reading.ground import Ground, deeds_of


def read_pots(ground: Ground) -> tuple[PotAccount, ...]:
    """Every pot of the part and of what was bonded into it, in the order in which they were started."""
    items = ground.of_kind(Kind.MIX)
    ids = [i.id for i in items]
    if not ids:
        return ()
    pots = load_pots(items)
    weighings = _weighings(ground, pots.values())
    checks = _grouped(CupCheck.select().where(CupCheck.mix.in_(ids)).order_by(CupCheck.id), ground)
    closings = _grouped(Closing.select().where(Closing.mix.in_(ids)).order_by(Closing.id), ground)
    accounts = []
    for item in items:
        pot = pots[item.id]
        mix, system = pot.mix, pot.system
        plan: dict[str, Any] = mix.plan or {}
        own = weighings[item.id]
        closing = closings[item.id][-1] if closings[item.id] else None
        job = kept_plan(plan)
        accounts.append(
            PotAccount(
                code=item.code,
                name=item.name,
                state=as_word(MixState, item.state),
                purpose=as_word(Purpose, mix.purpose),
                system=system["name"],
                system_revision=system["revision"],
                hardener_name=pot.hardener["name"],
                frozen_sha256=pot.frozen_sha256,
                ratio=mix.ratio,
                tolerance_pct=mix.tolerance_pct,
                separate_cups=mix.separate_cups,
                started_at=mix.started_at,
                contact_at=mix.contact_at,
                temperature_c=mix.temperature_c,
                temperature_of_air=mix.temperature_of_air,
                use_before=mix.use_before,
                life_note=mix.life_note,
                resin_mg=pot.resin_mg,
                hardener_mg=pot.hardener_mg,
                deviation_pct=mix.deviation_pct,
                uncertainty_pct=mix.uncertainty_pct,
                verdict=as_word(Verdict, mix.verdict),
                weighings=tuple(own),
                additions=_additions(ground, item),
                stirrings=tuple(StirringDone(s.started_at, s.ended_at, s.scraped, s.second_cup) for s in pot.stirrings),
                applied=_applied(ground, item),
                cup_kept=closing.cup_kept if closing is not None else None,
                cup_checks=tuple(
                    CupChecked(c.hard, c.hardness, c.hardness_scale, c.occurred_at) for c in checks[item.id]
                ),
                skipped=tuple(plan.get("skipped", ())),
                skipped_why=plan.get("skipped_why"),
                stir_min=system.get("stir_min"),
                job_plan=None if job is None else job.sentence,
                scales=scales_of(pot, mix.uncertainty_pct),
                catalyst_line=told_catalyst(pot),
                cautions=CAUTIONS if pot.catalyst is not None else (),
            )
        )
    return tuple(sorted(accounts, key=lambda p: (p.started_at, p.code)))


def _grouped(rows: Iterable[Any], ground: Ground) -> dict[int, list[Any]]:
    """Rows that stand, by their pot."""
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        if row.deed_id not in ground.corrected:
            found[row.mix_id].append(row)
    return found


def _weighings(ground: Ground, pots: Iterable[Pot]) -> dict[int, list[Weighing]]:
    read = list(pots)
    rows = [p for pot in read for p in pot.weighed]
    told = {pot.item.id: pot for pot in read}
    deeds = deeds_of(p.deed_id for p in rows)
    read_back = _read_back(p.deed_id for p in rows)
    containers = {c.item_id: c for c in Container.select().where(Container.item.in_({p.container_id for p in rows}))}
    materials = Formerly(Material, Material.id.in_({c.material_id for c in containers.values()}))
    named = {number: one for pot in read for number, one in pot.named.items()}
    found: dict[int, list[Weighing]] = defaultdict(list)
    for p in rows:
        deed: Deed = deeds[p.deed_id]
        found[p.mix_id].append(
            Weighing(
                component=told[p.mix_id].told(p.component),
                container=named[p.container_id].code,
                material_name=materials.at(containers[p.container_id].material_id, p.occurred_at).name,
                scale=named[p.scale_id].code,
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
                person_name=ground.called(deed.person_id, deed.occurred_at),
            )
        )
    return found


def _read_back(deeds: Iterable[int]) -> set[int]:
    """The pours whose typed reading was read once more before it counted: far from its target, or finer than a step."""
    rows = Entry.select(Entry.deed, Entry.body).where(Entry.deed.in_(set(deeds)))
    asked = {r.deed_id: json.loads(r.body).get("asked", {}) for r in rows}
    return {d for d, said in asked.items() if any(said.get(n) is not None for n in ("read_back_mg", "read_back_ml"))}


def _additions(ground: Ground, item: Item) -> tuple[Addition, ...]:
    return tuple(
        Addition(
            container=ground.code(known(m.source_id)),
            material_name=ground.items[known(m.source_id)].name,
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
