"""The study of `test_vary_run`, in a process of its own that may be killed: `python killed_study.py FILE.parquet`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.studies.varied import plan_for, stored, study_of

MANY = ("drive.driven_pulley=66:72:20", "inlet.flow_area=40:70:20")

if __name__ == "__main__":
    stored(plan_for(study_of(*MANY, sets=8, speeds="2500:5500:1000")), Path(sys.argv[1]))
