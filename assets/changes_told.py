"""Kinds of change that assets record."""

from services.changes.recording import declare_kinds

declare_kinds(
    {
        "principal.registered": "A person or a service was added.",
        "principal.changed": "A person's or a service's data or standing changed.",
        "access-token.made": "An administrator made a token for a service.",
        "access-token.revoked": "An administrator ended somebody's token.",
        "site.registered": "A site was added.",
        "site.changed": "A site's name, time zone or rank changed.",
        "bin.registered": "A bin was added to a site.",
        "bin.changed": "A bin was renamed, or became the default one.",
        "grant.given": "A principal was given a role.",
        "grant.withdrawn": "A role was taken from a principal.",
        "maker.registered": "A maker was added.",
        "maker.changed": "A maker's name changed.",
        "fluid.registered": "A fluid was added.",
        "fluid.changed": "A fluid's name, family or hazard changed.",
        "fluid-family.registered": "A family of fluids was added.",
        "fluid-family.changed": "A family's name, source or standing as water changed.",
        "fluid-family.removed": "A family of fluids that nothing refers to was taken out.",
        "position-role.registered": "A role that positions have was added.",
        "position-role.changed": "A position role's name or source changed.",
        "position-role.removed": "A position role that nothing refers to was taken out.",
        "pump-model.registered": "A pump model was added.",
        "pump-model.changed": "A pump model's data changed.",
        "wear-position.registered": "A position that an overhaul renews was added to a model.",
        "wear-position.changed": "What a position asks for changed.",
        "pump.registered": "A pump was added.",
        "pump.changed": "A pump's data, place or state changed.",
        "running-hours.recorded": "An hour reading of a pump was recorded.",
    }
)
