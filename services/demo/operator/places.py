"""Sites with their bins, the fluids moved there, and the suppliers."""

SITES = (
    ("central-store", "Central store, Fennmark harbour", "Atlantic/Faroe", "yes", "62.012", "-6.768"),
    ("tarn-waterworks", "Tarn waterworks", "Atlantic/Faroe", "no", "62.103", "-7.034"),
    ("holm-waterworks", "Holm waterworks", "Atlantic/Faroe", "no", "61.842", "-6.811"),
    ("heat-plant", "District-heating plant", "Atlantic/Faroe", "no", "62.031", "-6.802"),
    ("dairy", "Dairy at Lower Fenn", "Europe/Oslo", "no", "59.744", "10.204"),
    ("fish-hall", "Fish-processing hall", "Europe/Oslo", "no", "59.131", "10.217"),
)
CENTRAL = "central-store"
# Days from the central store and back, and what it costs to move one kit, in euro.
TRANSIT = (
    ("tarn-waterworks", 2, "18.00"),
    ("holm-waterworks", 2, "18.00"),
    ("heat-plant", 1, "12.00"),
    ("dairy", 6, "55.00"),
    ("fish-hall", 6, "55.00"),
)

# site, bin, default, name
BINS = (
    ("central-store", "A-01", "yes", "Kits, first aisle"),
    ("central-store", "A-02", "no", "Kits, second aisle"),
    ("central-store", "B-01", "no", "Bearings, dry room"),
    ("central-store", "C-01", "no", "O-rings and seals, dark cabinet"),
    ("central-store", "Q-01", "no", "Quarantine"),
    ("tarn-waterworks", "T-01", "yes", "Store shelf"),
    ("tarn-waterworks", "T-02", "no", "Packing drawer"),
    ("holm-waterworks", "H-01", "yes", "Store shelf"),
    ("heat-plant", "W-01", "yes", "Workshop cabinet"),
    ("heat-plant", "W-02", "no", "Workshop, top shelf"),
    ("dairy", "D-01", "yes", "Maintenance store"),
    ("fish-hall", "F-01", "yes", "Maintenance store"),
)

# code, name, family of the material tables, hazard
FLUIDS = (
    ("potable-water", "Potable water", "water", "Hygiene: only approved lubricants and materials."),
    ("raw-water", "Raw water from the tarn", "water", ""),
    ("heating-water", "District-heating water", "water", "Scalding when opened warm; under pressure."),
    ("brine", "Brine, propylene glycol with water", "glycol-water", "Slippery when spilled."),
    ("milk", "Whole milk", "vegetable-oil", "Hygiene: rinse before opening."),
    ("wash-alkali", "Wash solution, dilute caustic", "dilute-alkali", "Burns skin and eyes."),
    ("sea-water", "Sea water", "sea-water", ""),
    ("fish-oil", "Fish oil, warm", "vegetable-oil", "Hot and slippery; rags may heat by themselves."),
)

MAKERS = (
    ("skerrholm", "Skerrholm Pumps"),
    ("dunvard", "Dunvard Hydraulics"),
    ("tarnfell", "Tarnfell Machine Works"),
)

SUPPLIERS = (
    ("ollvard", "Ollvard Pump Parts"),
    ("sealmoor", "Sealmoor Trading"),
    ("varnick", "Varnick Bearing Supply"),
    ("fennsmith", "Fennsmith Turning Shop"),
)
