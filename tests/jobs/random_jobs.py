"""Jobs led through their states in any order, by the right hands and the wrong ones.

After each step the jobs agree with a second book kept by plain dictionaries, and what must always hold of records and
their chain is asked of the database. What is refused must leave everything as it was.
"""

from collections import Counter
from decimal import Decimal
from typing import Any, NamedTuple

from django.db import transaction
from django.utils import timezone
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine

from jobs.models import Job, JobStep, Measurement, Nonconformity, RecordLink, SignOff
from jobs.operations.cancelling import cancel_job
from jobs.operations.closing import finish_job, sign_off, take_kit
from jobs.operations.jobs import hold_job, plan_job, reserve_kit, resume_job
from jobs.operations.measurements import record_measurement
from jobs.operations.nonconformities import decide, raise_nonconformity
from jobs.operations.starting import start_job
from jobs.operations.steps import confirm_step, release_hold_point
from jobs.queries.record_chain import Verified, verify_all
from kits.queries.movements import ledger_differences
from kits.queries.reservations import issued_lots, of_job
from services.api.refusals import Refusal
from services.identity.callers import as_caller
from tests.closed_jobs import BENT, STRAIGHT, finished_job, started_job
from tests.overhauls import TODAY, Workshop
from tests.shelves import put_on_shelf
from tests.world import Cast, make_principal

MOST_JOBS = 4
# From which states each action leads where, written down anew for the tests; "" goes back to where a hold came from.
ALLOWED = {
    "start": {"ready": "in-progress"},
    "finish": {"in-progress": "awaiting-sign-off"},
    "sign off": {"awaiting-sign-off": "closed"},
    "hold": dict.fromkeys(("planned", "ready", "in-progress", "awaiting-sign-off"), "on-hold"),
    "resume": {"on-hold": ""},
    "cancel": dict.fromkeys(("planned", "ready", "in-progress", "awaiting-sign-off", "on-hold"), "cancelled"),
}
READINGS = {
    "shaft-run-out": ("dial", "mm", STRAIGHT, BENT),
    "seat-diameter": ("micrometer", "mm", ("40.008",) * 3, ("40.030",) * 3),
    "room-temperature": ("thermometer", "degC", ("18",), ("60",)),
}
STEPS = (10, 20, 30, 40, 50, 60)


class Chance(NamedTuple):
    """Which job, whose hand, which step or measurement, and a yes or no."""

    job: int = 0
    hand: int = 0
    what: int = 0
    yes: bool = False


def chances() -> st.SearchStrategy[Chance]:
    return st.builds(Chance, st.integers(0, 20), st.integers(0, 20), st.integers(0, 20), st.booleans())


class RandomJobs(RuleBasedStateMachine):
    """What fitters and supervisors do, and what they must not do."""

    cast: Cast
    workshop: Workshop

    def open_the_workshop(self) -> None:
        self.undo = transaction.atomic()
        self.undo.__enter__()
        other = make_principal("second-supervisor", ("supervisor", self.cast.north), ("fitter", self.cast.north))
        self.hands = [self.cast.by(one) for one in ("fitter", "second-fitter", "supervisor")] + [as_caller(other)]
        self.states: dict[Any, str] = {}
        self.held: dict[Any, str] = {}
        self.closed: list[Any] = []
        self.signed: dict[Any, str] = {}
        self.looked_at = 0
        # The day begins with a job under way and two that wait for their sign-off, one of them with a concession.
        for job in (
            started_job(self.cast, self.workshop),
            finished_job(self.cast, self.workshop),
            finished_job(self.cast, self.workshop, bent=True),
        ):
            self.states[job.pk] = job.state

    def teardown(self) -> None:
        """Nothing stays for the next example."""
        if hasattr(self, "undo"):
            transaction.set_rollback(True)
            self.undo.__exit__(None, None, None)

    # How a step is taken

    def attempt(self, do: Any) -> Any:
        """Do one thing, all of it or nothing; None where it is refused."""
        try:
            with transaction.atomic():
                return do() or True
        except Refusal:
            return None

    def job(self, chance: Chance) -> Job | None:
        """A job, more often one that still lives."""
        live = [pk for pk, state in self.states.items() if state not in {"closed", "cancelled"}]
        some = live if live and chance.job % 4 else list(self.states)
        return Job.objects.get(pk=some[chance.job % len(some)]) if some else None

    def hand(self, chance: Chance) -> Any:
        return self.hands[chance.hand % len(self.hands)]

    def fitter(self, chance: Chance) -> Any:
        """Mostly a fitter, now and then a supervisor, who may then not sign."""
        return self.hands[chance.hand % (4 if chance.what % 9 == 8 else 2)]

    def supervisor(self, chance: Chance) -> Any:
        """Mostly a supervisor, now and then a fitter, who may not."""
        return self.hands[chance.hand % 2 + (0 if chance.what % 5 == 4 else 2)]

    def moved(self, job: Job, action: str, done: Any, *, also: bool = True) -> None:
        """The book follows: an action that was done was allowed, and one that was allowed (and ``also``) was done."""
        target = ALLOWED[action].get(self.states[job.pk])
        if done:
            assert target is not None, (action, self.states[job.pk])
            if action == "hold":
                self.held[job.pk] = self.states[job.pk]
            self.states[job.pk] = target or self.held[job.pk]
        else:
            assert target is None or not also, (action, self.states[job.pk])

    # From plan to start

    def plan(self, chance: Chance) -> None:
        if sum(state not in {"closed", "cancelled"} for state in self.states.values()) >= MOST_JOBS:
            return
        put_on_shelf(self.cast.by("stores"), self.cast.north, self.workshop.kit, 1, lot="L-1")
        made = self.attempt(
            lambda: plan_job(
                by=self.cast.by("planner"), pump_id=self.workshop.pump.pk, kit_id=self.workshop.kit.pk,
                planned_start=TODAY,
            )
        )  # fmt: skip
        self.states[made.pk] = "planned"
        if not chance.yes:
            self.reserve(Chance(job=1 + 4 * list(self.states).index(made.pk)), made)

    def reserve(self, chance: Chance, job: Job | None = None) -> None:
        job = job or self.job(chance)
        if job is None:
            return
        if self.attempt(lambda: reserve_kit(by=self.cast.by("planner"), job_id=job.pk)):
            assert self.states[job.pk] in {"planned", "ready", "in-progress"}
            if self.states[job.pk] == "planned":
                self.states[job.pk] = "ready"

    def start(self, chance: Chance) -> None:
        job = self.job(chance)
        if job is None:
            return
        by = self.hand(chance)
        done = self.attempt(lambda: start_job(by=by, job_id=job.pk, expected_version=job.version))
        self.moved(job, "start", done)

    def hold(self, chance: Chance) -> None:
        job = self.job(chance)
        if job is not None and chance.yes:
            by = self.hand(chance)
            done = self.attempt(lambda: hold_job(by=by, job_id=job.pk, expected_version=job.version, reason="rain"))
            self.moved(job, "hold", done)

    def resume(self, chance: Chance) -> None:
        job = self.job(chance)
        if job is not None:
            by = self.hand(chance)
            done = self.attempt(lambda: resume_job(by=by, job_id=job.pk, expected_version=job.version))
            self.moved(job, "resume", done)

    def cancel(self, chance: Chance) -> None:
        job = self.job(chance)
        if job is None or chance.what % 8:
            return
        taken = bool(issued_lots(job.pk))
        done = self.attempt(
            lambda: cancel_job(by=self.hands[3], job_id=job.pk, expected_version=job.version, reason="replaced")
        )
        self.moved(job, "cancel", done, also=not taken)

    # The work

    def go_on(self, chance: Chance) -> None:
        """The next thing that has to be done on a job, by a hand that may be the wrong one."""
        job = self.job(chance)
        if job is None or self.states[job.pk] != "in-progress":
            return
        step = JobStep.objects.filter(job=job, state__in=["open", "awaiting-release"]).order_by("number").first()
        if step is None:
            if not issued_lots(job.pk) and self.attempt(lambda: take_kit(by=self.hand(chance), job_id=job.pk)):
                return
            self.finish(chance, job)
        elif step.state == "awaiting-release":
            self.release(chance, step)
        else:
            for asked in step.characteristics.order_by("code"):
                if not Measurement.objects.filter(job_characteristic=asked, verdict="accept").exists():
                    bent = chance.yes and chance.what % 3 == 0
                    self.record(job, step.number, asked.code, chance, bent=bent)
            self.confirm(chance, job, step.number)

    def work_on(self, chance: Chance) -> None:
        """Several of the next things, all by one hand or by changing ones."""
        for turn in range(6):
            self.go_on(chance._replace(hand=chance.hand + turn * chance.yes))

    def anything(self, chance: Chance) -> None:
        """Whatever step or measurement, whether its turn has come or not."""
        job = self.job(chance)
        if job is None:
            return
        if chance.yes:
            self.confirm(chance, job, STEPS[chance.what % len(STEPS)])
        else:
            code = sorted(READINGS)[chance.what % len(READINGS)]
            self.record(job, 20 if code == "shaft-run-out" else 30, code, chance, bent=bool(chance.hand % 2))

    def record(self, job: Job, step: int, code: str, chance: Chance, *, bent: bool) -> None:
        tool, unit, good, bad = READINGS[code]
        before = Measurement.objects.count()
        done = self.attempt(
            lambda: record_measurement(
                by=self.fitter(chance), job_id=job.pk, step=step, characteristic=code,
                readings=[Decimal(one) for one in (bad if bent else good)], unit=unit,
                instrument_id=self.workshop.instruments[tool].pk,
            )
        )  # fmt: skip
        assert Measurement.objects.count() == before + bool(done)
        if done:
            assert self.states[job.pk] == "in-progress"
            assert (done.verdict == "reject") == bent

    def confirm(self, chance: Chance, job: Job, number: int) -> None:
        if self.attempt(lambda: confirm_step(by=self.fitter(chance), job_id=job.pk, number=number)):
            assert self.states[job.pk] == "in-progress"
            assert number == 10 or JobStep.objects.get(job=job, number=10).state == "done"

    def release(self, chance: Chance, step: JobStep) -> None:
        by = self.supervisor(chance)
        done = self.attempt(
            lambda: release_hold_point(
                by=by, job_id=step.job_id, number=step.number, expected_version=step.version, remark="looked at"
            )
        )
        if done:
            assert by in self.hands[2:]
            assert by.id != step.done_by_id

    def raise_something(self, chance: Chance) -> None:
        job = self.job(chance)
        if job is None or chance.what % 4:
            return
        done = self.attempt(
            lambda: raise_nonconformity(by=self.hand(chance), job_id=job.pk, description="Scored.", role="shaft-sleeve")
        )
        assert bool(done) == (self.states[job.pk] in {"in-progress", "awaiting-sign-off", "on-hold"})

    def decide_something(self, chance: Chance) -> None:
        some = list(Nonconformity.objects.exclude(state="closed").order_by("id"))
        if not some:
            return
        found, by = some[chance.job % len(some)], self.supervisor(chance)
        disposition = ("use-as-is", "rework", "use-as-is", "replace")[chance.what % 4]
        extent = "" if chance.yes and chance.what % 5 == 0 else "until its next overhaul"
        done = self.attempt(
            lambda: decide(
                by=by, nonconformity_id=found.pk, expected_version=found.version, disposition=disposition,
                reason="a test", extent=extent,
            )
        )  # fmt: skip
        if done and disposition == "use-as-is":
            assert extent
            assert not JobStep.objects.filter(job_id=found.job_id, done_by_id=by.id).exists()
            assert not Measurement.objects.filter(job_id=found.job_id, by_id=by.id).exists()

    # The end

    def finish(self, chance: Chance, job: Job | None = None) -> None:
        job = job or self.job(chance)
        if job is None:
            return
        open_ones = Nonconformity.objects.filter(job=job).exclude(state="closed").exists()
        undone = JobStep.objects.filter(job=job, state__in=["open", "awaiting-release"]).exists()
        by = self.hand(chance)
        done = self.attempt(lambda: finish_job(by=by, job_id=job.pk, expected_version=job.version))
        self.moved(job, "finish", done, also=not open_ones and not undone and bool(issued_lots(job.pk)))

    def sign(self, chance: Chance) -> None:
        job = self.job(chance)
        if job is None:
            return
        by = self.supervisor(chance)
        did_steps = JobStep.objects.filter(job=job, done_by_id=by.id).exists()
        measured = Measurement.objects.filter(job=job, by_id=by.id).exists()
        open_ones = Nonconformity.objects.filter(job=job).exclude(state="closed").exists()
        stale = chance.yes and chance.what % 3 == 0
        done = self.attempt(
            lambda: sign_off(by=by, job_id=job.pk, expected_version=job.version - stale, remark="a test")
        )
        may = by in self.hands[2:] and not did_steps and not measured and not open_ones and not stale
        self.moved(job, "sign off", done, also=may)
        if done:
            assert may
            self.closed.append(job.pk)
            self.signed[job.pk] = done[1].content_hash

    # What must always hold

    def look(self) -> None:
        assert dict(Job.objects.filter(pk__in=list(self.states)).values_list("id", "state")) == self.states
        rows = list(RecordLink.objects.order_by("number").values_list("number", "job_id", "content_hash"))
        assert rows == [(place, pk, self.signed[pk]) for place, pk in enumerate(self.closed, start=1)]
        seen = Verified()
        assert list(verify_all(seen)) == []
        assert seen.links == len(self.closed)
        assert seen.signatures == SignOff.objects.count()
        assert ledger_differences() == []
        for pk in self.closed[self.looked_at :]:
            self.whole(pk)
        self.looked_at = len(self.closed)

    def whole(self, pk: Any) -> None:
        """What a closed job must have."""
        steps = JobStep.objects.filter(job_id=pk)
        assert set(steps.values_list("state", flat=True)) <= {"done", "not-applicable"}
        assert not Nonconformity.objects.filter(job_id=pk).exclude(state="closed").exists()
        kinds = Counter(SignOff.objects.filter(job_id=pk).values_list("kind", flat=True))
        conceded = Nonconformity.objects.filter(job_id=pk, disposition="use-as-is")
        assert kinds == Counter({"hold-point": 1, "completion": 1, "concession": conceded.count()})
        completion = SignOff.objects.get(job_id=pk, kind="completion")
        assert not steps.filter(done_by_id=completion.by_id).exists()
        last = {one.job_characteristic_id: one for one in Measurement.objects.filter(job_id=pk).order_by("attempt")}
        allowed = set(conceded.values_list("measurement_id", flat=True))
        assert all(one.verdict == "accept" or one.pk in allowed for one in last.values())
        assert of_job(pk)[0]["state"] == "issued"
        assert completion.at <= timezone.now()
