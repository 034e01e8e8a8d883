"""The invented operator Fennmark Utilities: its master data, stock, procedures and history, by subject.

Nothing here is real: makers, suppliers, people, numbers and pumps are made up. Sizes are those of open standards
(ISO 15 bearings, EN 12756 seals, ISO 3601 O-rings). Everything follows from these tables and from one day, so the same
day always gives the same files.
"""
