"""Computations of the trade that anybody signed in may ask for: one file of declarations a family.

To add one, write the pure function where its subject lives, declare it in its family's file, and give it an example
that a test answers with a figure from outside.
"""

from jobs.calculations.offered import acceptance, bearings, hydraulic, running, screws, sealing, sizes, suction
from jobs.calculations.offered.declared import Calculation

FAMILIES = (sizes, bearings, sealing, screws, running, hydraulic, suction, acceptance)
CALCULATIONS: dict[str, Calculation] = {one.name: one for family in FAMILIES for one in family.CALCULATIONS}
