"""Small studies of designs for the tests: the workboat six with a charge temperature it must keep."""

from pathlib import Path

from boostwright.records.build_file import BuildFile
from boostwright.records.chunk_store import ChunkStore, open_store
from boostwright.studies.match_request import ambient_from_text, speeds_from_text
from boostwright.studies.vary import Search, VaryStudy
from boostwright.studies.vary_request import chosen_form, goal_from_text, plan_of, variation_from_text, vary_study
from boostwright.studies.vary_result import VaryGoal
from boostwright.studies.vary_run import Plan, run_plan
from boostwright.studies.workers import ThisProcess, Workers
from tests.machine.builds import build_file

AIR = ambient_from_text("100 kPa, 25 degC, 0.4")
AVERAGE = goal_from_text("average", [], 0.05)
PULLEY_AND_AREA = ("drive.driven_pulley=66:72:4", "inlet.flow_area=40:70:3")
PORT = ("inlet.port_closing_angle=185:215:3", "inlet.port_area=8:13:2")


def limited_file(**limits: str) -> BuildFile:
    return build_file(limits={"charge_temperature": "70 degC", **limits})


def study_of(
    *varied: str,
    file: BuildFile | None = None,
    sets: int = 8,
    speeds: str = "2500:5500:1500",
    search: Search = Search.GRID,
    blower: str | None = None,
) -> VaryStudy:
    file = file or limited_file()
    variations = [variation_from_text(text, file, search) for text in varied]
    return vary_study(file, variations, speeds_from_text(speeds), AIR, chosen_form(blower, variations), sets)


def plan_for(study: VaryStudy, goal: VaryGoal = AVERAGE, search: Search = Search.GRID, designs: int = 0) -> Plan:
    return plan_of(study, goal, search, designs)


def stored(plan: Plan, target: Path, workers: Workers | None = None) -> ChunkStore:
    store = open_store(target, plan.digest, plan.title)
    run_plan(plan, store, workers or ThisProcess(), lambda amount: None)
    return store
