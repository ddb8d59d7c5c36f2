"""The pictures of a report as images that its templates can place, each with its words for those who do not see it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from schemas.words import MaterialKind, Purpose
from service.operations.cures.curves import CurePlot
from service.operations.parts.plies import DesignPly
from service.reports.drawing.boxes import Relation
from service.reports.drawing.genealogy import genealogy_says, genealogy_svgs
from service.reports.drawing.marks import ply_stack_svg, ratio_bar_svg
from service.reports.drawing.strip import age_strip_svg, strip_says
from service.reports.finding.suspected import AgeSplit
from service.reports.reading.account import PartAccount, PotAccount
from service.reports.reading.cures import CureAccount
from service.reports.record import PartRecord
from service.reports.wording import code, number, second_component, signed, span

Stored = dict[str, str]
_GEL_COAT_LAYER = 0.15


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of the stack, as high as its areal weight: the cured thickness is not known before the trim."""

    label: str
    thickness_mm: float
    kind: str


@dataclass(frozen=True, slots=True)
class Pictures:
    """Draws, stores and places."""

    stored: Stored
    scheme: str

    def _image(self, svg: str, says: str, css: str) -> Markup:
        address = f"{self.scheme}{len(self.stored)}"
        self.stored[address] = svg
        return Markup('<img class="{}" src="{}" alt="{}">').format(css, address, says)

    def symbol(self, svg: str, says: str) -> Markup:
        return self._image(svg, says, "symbol")

    def ratio(self, pot: PotAccount) -> Markup:
        if pot.deviation_pct is None or pot.uncertainty_pct is None:
            return escape("not known")
        svg = ratio_bar_svg(
            deviation_pct=pot.deviation_pct,
            uncertainty_pct=pot.uncertainty_pct,
            tolerance_pct=pot.tolerance_pct,
            component=second_component(pot.catalyst_line),
        )
        off = f"{signed(pot.deviation_pct)} % ± {number(pot.uncertainty_pct)} %"
        says = f"{second_component(pot.catalyst_line).capitalize()} {off}, {pot.verdict}"
        return self._image(svg, says, "ratio")

    def strip(self, split: AgeSplit) -> Markup:
        return self._image(age_strip_svg(split), strip_says(split), "strip")

    def genealogy(self, things: Sequence[Relation], links: Iterable[tuple[str, str]]) -> Markup:
        """The drawing over as many pages as it needs, and above it what is in it, counted."""
        says = genealogy_says(things)
        drawn = [self._image(svg, says, "genealogy") for svg in genealogy_svgs(things, links)]
        return Markup('<p class="note lead">{}.</p>').format(says) + Markup("").join(drawn)

    def plies(self, part: PartAccount | PartRecord) -> Markup:
        cores = {m.material_name for m in part.materials if m.kind == MaterialKind.CORE}
        layers = [_layer(p, core=p.material_name in cores) for p in part.design.plies]
        if any(p.purpose == Purpose.GEL_COAT for p in part.pots):
            least = min((layer.thickness_mm for layer in layers), default=_GEL_COAT_LAYER)
            layers.insert(0, Layer("gel coat", least, "gel coat"))
        says = "Plies from the mould: " + "; ".join(layer.label for layer in layers)
        return self._image(ply_stack_svg(layers), says, "plies")

    def cure(self, cure: CureAccount, plot: CurePlot) -> Markup:
        # The plots need matplotlib, which is loaded when first used.
        from service.reports.drawing.plots import cure_plot_svg

        svg = cure_plot_svg(
            times_min=plot.times_min,
            probes=plot.probes,
            required=plot.required,
            stages=plot.stages,
            air=plot.air,
            gaps=plot.gaps,
            title=plot.title,
        )
        proved = "; ".join(f"{s.name} {span(s.proved_min)} of {span(s.minimum_min)}" for s in cure.stages)
        return self._image(svg, f"Temperatures of cure {code(cure.code)}. {proved}", "cure")


def _layer(ply: DesignPly, *, core: bool) -> Layer:
    turned = f"{ply.angle_deg:g}°".replace("-", "−")
    face = f", face {ply.face}" if ply.face else ""
    zone = f", {ply.zone}" if ply.zone else ""
    label = f"{ply.number}  {ply.areal_weight_g_m2:g} g/m² {turned}{face}{zone}"
    return Layer(label, ply.areal_weight_g_m2 / 1000, "core" if core else "fibre")
