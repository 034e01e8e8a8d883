"""Everything on which fit depends, changed at random: by the operations that people use, else in its table."""

import datetime
from dataclasses import dataclass
from random import Random
from typing import Any, TypeVar

from django.db import transaction
from django.db.models import Model
from django.utils import timezone

from assets.calculations.part_specifications import specification_from_json
from assets.models import Fluid, FluidFamily, PositionRole, Pump, PumpModel, WearPosition
from assets.operations.build_classes import replace_pumps_of
from assets.operations.pump_models import change_fluid, change_wear_position, register_wear_position
from assets.operations.pumps import change_pump, register_pump
from kits.models import Item, Kit, KitScope, MaterialLimit, MaterialRating, Part, Supersession
from kits.operations.coverage import declare_coverage
from kits.operations.kits import LineWanted, draft_kit, release_kit, set_lines, withdraw_kit
from kits.operations.material_tables import change_limit
from kits.operations.supersessions import change_supersession, register_supersession, withdraw_supersession
from kits.refusals_catalogue import SupersessionCycle
from services.identity.callers import Caller
from tests.kits.fit import random_catalogues as drawn
from tests.kits.fit.brute_force import elastomers

M = TypeVar("M", bound=Model)


@dataclass
class Editor:
    """Who edits, and what the choices are drawn from. Every edit says what it did."""

    rng: Random
    owner: Caller
    planner: Caller

    def edit(self) -> str:
        """One change of any kind."""
        name = self.rng.choice(EDITS)
        return f"{name}: {getattr(self, name)()}"

    def one(self, rows: type[M], **narrowed: Any) -> M:
        return self.rng.choice(list(rows._default_manager.filter(**narrowed).order_by("pk")))

    def part_becomes_another(self) -> str:
        part = self.one(Part)
        role = self.rng.choice(drawn.ROLES)
        like = drawn.nearly(self.rng, self.one(Part).specification, role)
        wanted = self.rng.choice((like, drawn.random_specification(self.rng, role))) or {"category": "other"}
        Part.objects.filter(pk=part.pk).update(
            category=wanted["category"], specification=wanted, elastomers=sorted(elastomers(wanted))
        )
        return f"{part.item.number} {wanted}"

    def part_is_renumbered(self) -> str:
        item = self.one(Item, kind="part")
        wanted = self.rng.choice((f"{item.number}-X", item.number.replace(".0", ""), "CA-0.0", "BE-1.0"))
        if not Item.objects.filter(number__iexact=wanted, revision="").exists():
            Item.objects.filter(pk=item.pk).update(number=wanted)
        return f"{item.number} {wanted}"

    def kit_is_withdrawn(self) -> str:
        kits = Kit.objects.filter(state="released").order_by("pk")
        if kits.count() < 2:
            return "too few"
        kit = self.rng.choice(list(kits))
        withdraw_kit(by=self.owner, kit_id=kit.pk, expected_version=kit.item.version)
        return kit.item.number

    def kit_is_released_anew(self) -> str:
        """A revision with a line dropped or another part on it; the one before it is withdrawn by that."""
        kit = self.one(Kit)
        revision = f"{Item.objects.filter(number=kit.item.number).count()}"
        draft = draft_kit(by=self.owner, number=kit.item.number, revision=revision, name="anew", scope=kit.scope.code)
        lines = [
            LineWanted(one.line, one.role_id, one.part_id, one.quantity, one.optional, one.alternative_group)
            for one in kit.lines.order_by("line")
            if kit.scope.roles.filter(code=one.role_id).exists()
        ][: self.rng.choice((9, 2, 1))]
        at = self.rng.randint(0, 1)
        if at < len(lines):
            lines[at] = LineWanted(lines[at].line, lines[at].role, self.one(Part).pk, lines[at].quantity)
        if not lines:
            return "nothing of its scope"
        set_lines(by=self.owner, kit_id=draft.pk, expected_version=draft.item.version, lines=lines)
        release_kit(by=self.owner, kit_id=draft.pk, expected_version=Item.objects.get(pk=draft.pk).version)
        return f"{kit.item.number} {revision}"

    def kit_changes_scope(self) -> str:
        kit, scope = self.one(Kit, state="released"), self.one(KitScope, code__startswith="trial")
        Kit.objects.filter(pk=kit.pk).update(scope=scope)
        return f"{kit.item.number} {scope.code}"

    def scope_changes_roles(self) -> str:
        scope, role = self.one(KitScope, code__startswith="trial"), self.one(PositionRole, code__in=drawn.ROLES)
        if scope.roles.filter(pk=role.pk).exists():
            scope.roles.remove(role)
        else:
            scope.roles.add(role)
        return f"{scope.code} {role.code}"

    def coverage_is_declared(self) -> str:
        kit, model = self.one(Kit), self.one(PumpModel, code__startswith="M")
        start, end = drawn.random_range(self.rng)
        declare_coverage(by=self.owner, kit_id=kit.pk, model_id=model.pk, serial_from=start, serial_to=end)
        return f"{kit.item.number} {model.code} {start}..{end}"

    def supersession_is_added(self) -> str:
        old, new = self.one(Part), self.one(Part)
        day = timezone.now().date() + datetime.timedelta(days=self.rng.choice((-1, 0, 1)))
        if old == new or Supersession.objects.filter(old=old, new=new).exists():
            return "there already"
        both_ways = self.rng.randint(0, 1) == 1
        try:
            with transaction.atomic():
                register_supersession(by=self.owner, old_id=old.pk, new_id=new.pk, from_date=day, both_ways=both_ways)
        except SupersessionCycle:
            return "a circle"
        return f"{old.item.number} {new.item.number} {day}"

    def supersession_is_changed(self) -> str:
        if not Supersession.objects.exists():
            return "none"
        made = self.one(Supersession)
        day = timezone.now().date() + datetime.timedelta(days=self.rng.choice((-1, 0, 1)))
        changes: dict[str, Any] = self.rng.choice(
            ({"from_date": day, "until_date": None}, {"both_ways": not made.both_ways}, {"until_date": None})
        )
        try:
            with transaction.atomic():
                change_supersession(by=self.owner, supersession_id=made.pk, expected_version=made.version, **changes)
        except SupersessionCycle:
            return "a circle"
        return f"{made.old.item.number} {made.new.item.number} {changes}"

    def supersession_is_withdrawn(self) -> str:
        made = self.rng.choice([None, *Supersession.objects.filter(until_date=None).order_by("pk")])
        if made is None:
            return "none"
        withdraw_supersession(by=self.owner, supersession_id=made.pk, expected_version=made.version)
        return f"{made.old.item.number} {made.new.item.number}"

    def supersession_is_removed(self) -> str:
        if not Supersession.objects.exists():
            return "none"
        made = self.one(Supersession)
        Supersession.objects.filter(pk=made.pk).delete()
        return f"{made.old.item.number} {made.new.item.number}"

    def position_is_added(self) -> str:
        model = self.one(PumpModel, code__startswith="M")
        parts = {role: [drawn.Part(self.one(Item, kind="part").number, None)] for role in drawn.ROLES}
        asked = drawn.random_position(self.rng, parts)
        stored = self.rng.choice((None, self.one(Part).specification))
        text = specification_from_json(stored).designation() if stored and len(stored) > 1 else ""
        start, end = drawn.random_range(self.rng)
        if WearPosition.objects.filter(
            pump_model=model, role__code=asked.role, serial_from=start, serial_to=end, variant=asked.variant,
            part_number=asked.number,
        ).exists():  # fmt: skip
            return "there already"
        register_wear_position(
            by=self.owner,
            model_id=model.pk,
            role=asked.role,
            quantity=asked.quantity,
            mandatory=asked.mandatory,
            serial_from=start,
            serial_to=end,
            variant=asked.variant,
            part_number=asked.number,
            category=stored["category"] if stored and text else "",
            specification=text,
        )
        return f"{model.code} {asked} {text} {start}..{end}"

    def position_is_changed(self) -> str:
        made = self.one(WearPosition)
        changes: dict[str, Any] = self.rng.choice(
            (
                {"quantity": self.rng.choice(drawn.QUANTITIES)},
                {"mandatory": not made.mandatory},
                {"part_number": self.one(Item, kind="part").number},
            )
        )
        twin = WearPosition.objects.filter(
            pump_model=made.pump_model, role__code=made.role_id, serial_from=made.serial_from, serial_to=made.serial_to,
            variant=made.variant, part_number=changes.get("part_number", ""),
        )  # fmt: skip
        if not twin.exists():
            change_wear_position(by=self.owner, position_id=made.pk, expected_version=made.version, **changes)
        return f"{made.pump_model.code} {made.role_id} {changes}"

    def position_is_removed(self) -> str:
        if WearPosition.objects.count() < 3:
            return "too few"
        made = self.one(WearPosition)
        WearPosition.objects.filter(pk=made.pk).delete()
        replace_pumps_of([made.pump_model_id])
        return f"{made.pump_model.code} {made.role_id}"

    def pump_is_changed(self) -> str:
        pump = self.one(Pump)
        drawn_anew = drawn.random_pump(self.rng, 0, ["M0"])
        changes: dict[str, Any] = self.rng.choice(
            (
                {"fluid_id": self.one(Fluid, code__in=drawn.FAMILIES).pk},
                {"temperature_min_c": drawn_anew.coldest, "temperature_max_c": drawn_anew.hottest},
                {"variant": drawn_anew.variant},
                {"serial_number": drawn_anew.serial + self.rng.choice(("", "7"))},
                {"pump_model_id": self.one(PumpModel, code__startswith="M").pk},
            )
        )
        model = changes.get("pump_model_id", pump.pump_model_id)
        serial = changes.get("serial_number", pump.serial_number).upper().replace(" ", "")
        if Pump.objects.filter(pump_model_id=model, serial_number=serial).exclude(pk=pump.pk).exists():
            return "there already"
        change_pump(by=self.planner, pump_id=pump.pk, expected_version=pump.version, **changes)
        return f"{pump.tag} {changes}"

    def pump_is_registered(self) -> str:
        model, wanted = self.one(PumpModel, code__startswith="M"), drawn.random_pump(self.rng, 0, ["M0"])
        serial = f"A{self.rng.randint(0, 60)}"
        if Pump.objects.filter(pump_model=model, serial_number=serial).exists():
            return "there already"
        register_pump(
            by=self.planner,
            site_id=Pump.objects.values_list("site_id", flat=True)[0],
            pump_model_id=model.pk,
            tag=f"N-{Pump.objects.count()}",
            serial_number=serial,
            fluid_id=Fluid.objects.get(code=wanted.family).pk,
            temperature_min_c=wanted.coldest,
            temperature_max_c=wanted.hottest,
            criticality="essential",
            variant=wanted.variant,
        )
        return f"{model.code} {serial}"

    def fluid_is_of_another_family(self) -> str:
        fluid = self.one(Fluid, code__in=drawn.FAMILIES)
        family = self.rng.choice(drawn.FAMILIES)
        change_fluid(by=self.owner, fluid_id=fluid.pk, expected_version=fluid.version, family=family)
        return f"{fluid.code} {family}"

    def family_counts_as_water_or_not(self) -> str:
        family = self.one(FluidFamily, code__in=drawn.FAMILIES)
        FluidFamily.objects.filter(pk=family.pk).update(is_water=not family.is_water)
        return f"{family.code} {not family.is_water}"

    def rating_is_changed(self) -> str:
        rating = self.one(MaterialRating)
        letter = self.rng.choice("AABX")
        MaterialRating.objects.filter(pk=rating.pk).update(rating=letter)
        return f"{rating.material.code} {rating.fluid_family.code} {rating.up_to_c} {letter}"

    def rating_moves(self) -> str:
        """Its temperature goes up or down."""
        rating = self.one(MaterialRating)
        wanted = self.rng.choice(drawn.DEGREES)
        if rating.material.ratings.filter(fluid_family=rating.fluid_family, up_to_c=wanted).exists():
            return "there already"
        MaterialRating.objects.filter(pk=rating.pk).update(up_to_c=wanted)
        return f"{rating.material.code} {rating.fluid_family.code} {rating.up_to_c} to {wanted}"

    def limits_are_changed(self) -> str:
        kept = self.one(MaterialLimit)
        wanted = drawn.random_limit(self.rng, kept.material.code)
        change_limit(
            by=self.owner,
            row_id=kept.pk,
            expected_version=kept.version,
            air_min_c=wanted.coldest,
            air_max_c=wanted.hottest,
            hot_water_max_c=wanted.hottest_in_water,
        )
        return f"{wanted}"


EDITS = tuple(sorted(name for name in vars(Editor) if not name.startswith("_") and name not in {"edit", "one"}))
