"""The set-up records: staff, lots, substances and benches, and how they change."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

import numpy as np
from django.contrib.auth.hashers import make_password

from ..actions.setup import change_configuration, keep_method, save_setup
from ..models import (
    Account,
    Bench,
    BenchConfiguration,
    FuseLot,
    Method,
    Part,
    Role,
    StandardLot,
    Substance,
    TitrantLot,
)
from .burns import NOMINAL_WATER_G, Wire
from .scenario import BenchTruth, Scenario

# Made everything that was set up; it cannot sign in. Its presence marks a demonstration.
MAKER = "demonstration-maker"
BOMB_VOLUME_ML = "340.0"


@dataclass
class Laboratory:
    """The records that every afternoon works with."""

    scenario: Scenario
    maker: Account
    coordinator: Account
    assistants: list[Account]
    method: Method
    standard_lots: list[StandardLot]
    wires: dict[str, Wire]
    substances: dict[str, Substance]
    benches: list[Bench]
    passwords: dict[str, str]
    started: datetime
    changed: set[str] = field(default_factory=set)

    def rng(self, *numbers: int) -> np.random.Generator:
        """Chance for one purpose, the same at every build."""
        return np.random.default_rng([self.scenario.laboratory["seed"], *numbers])

    @property
    def standard(self) -> StandardLot:
        """The lot in use."""
        return next(lot for lot in self.standard_lots if lot.in_use)


def found_laboratory(scenario: Scenario, started: datetime) -> Laboratory:
    maker = Account.objects.create_user(
        MAKER, None, name="Maker of the demonstration", role=Role.COORDINATOR
    )
    passwords = {role: make_password(word) for role, word in scenario.people["passwords"].items()}
    coordinator = _sign_in(scenario.people["coordinator"], Role.COORDINATOR, passwords, maker)
    assistants = [
        _sign_in(row, Role.ASSISTANT, passwords, maker) for row in scenario.people["assistants"]
    ]
    substances = _keep_substances(scenario, maker)
    return Laboratory(
        scenario=scenario,
        maker=maker,
        coordinator=coordinator,
        assistants=assistants,
        method=keep_method(Method(**scenario.laboratory["method"]), by=maker),
        standard_lots=_keep_standard_lots(scenario, substances["benzoic acid"], maker),
        wires=_keep_wires(scenario, maker),
        substances=substances,
        benches=[_keep_bench(truth, started, maker) for truth in scenario.benches],
        passwords=passwords,
        started=started,
    )


def _sign_in(row: dict[str, str], role: Role, passwords: dict[str, str], maker: Account) -> Account:
    account = Account(**row, role=role, password=passwords[role])
    save_setup(account, by=maker)
    return account


def _keep_substances(scenario: Scenario, maker: Account) -> dict[str, Substance]:
    kept = {}
    for row in scenario.stock["substances"]:
        facts = {key: value for key, value in row.items() if key != "max_charge_g"}
        kept[row["name"]] = Substance(**facts)
        save_setup(kept[row["name"]], by=maker)
    return kept


def _keep_standard_lots(
    scenario: Scenario, substance: Substance, maker: Account
) -> list[StandardLot]:
    """All lots; only the first is in use at the start."""
    rows = scenario.laboratory["standard_lots"]
    lots = [StandardLot(**row, substance=substance, in_use=row is rows[0]) for row in rows]
    for lot in lots:
        save_setup(lot, by=maker)
    return lots


def _keep_wires(scenario: Scenario, maker: Account) -> dict[str, Wire]:
    """Every other bench works with the other wire and titrant."""
    facts = scenario.laboratory
    fuses = [
        FuseLot(**{key: value for key, value in row.items() if key != "before"})
        for row in facts["fuse_lots"]
    ]
    titrants = [TitrantLot(**row) for row in facts["titrant_lots"]]
    for lot in (*fuses, *titrants):
        save_setup(lot, by=maker)
        lot.refresh_from_db()
    befores = [row["before"] for row in facts["fuse_lots"]]
    pairs = list(zip(fuses, befores, titrants, strict=True))
    return {
        truth.code: Wire(*pairs[index % len(pairs)]) for index, truth in enumerate(scenario.benches)
    }


def _keep_bench(truth: BenchTruth, started: datetime, maker: Account) -> Bench:
    bench = Bench(code=truth.code, place=truth.place)
    save_setup(bench, by=maker)
    parts = {kind: Part(kind=kind, serial=serial) for kind, serial in truth.parts.items()}
    for part in parts.values():
        save_setup(part, by=maker)
    configuration = BenchConfiguration(
        bench=bench,
        since=started,
        jacket_kind=truth.jacket_kind,
        thermometer_step_k=Decimal(truth.thermometer_step_k),
        nominal_water_g=Decimal(str(NOMINAL_WATER_G)),
        bomb_volume_ml=Decimal(BOMB_VOLUME_ML),
        reason="Set up for the course.",
        **parts,
    )
    change_configuration(configuration, by=maker)
    return bench


def change_part(laboratory: Laboratory, moment: datetime) -> None:
    """The part change of the scenario, made by the coordinator."""
    change = laboratory.scenario.laboratory["part_change"]
    part = Part(kind=change["part"], serial=change["serial"])
    save_setup(part, by=laboratory.maker)
    bench = next(bench for bench in laboratory.benches if bench.code == change["bench"])
    configuration = bench.configurations.get()
    configuration.pk, configuration._state.adding = None, True
    configuration.since, configuration.reason = moment, change["reason"]
    setattr(configuration, change["part"], part)
    change_configuration(configuration, by=laboratory.coordinator)
    laboratory.changed.add(bench.code)


def change_lot(laboratory: Laboratory) -> None:
    """The first lot of the standard is used up; the next is opened."""
    for lot in laboratory.standard_lots:
        lot.in_use = not lot.in_use
        save_setup(lot, by=laboratory.coordinator)
