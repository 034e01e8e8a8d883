"""What the clock asks for. Every tick only says *look*; what is due is decided, and claimed once, in the database."""

SCHEDULE = {
    "sweep recorded work": {"task": "services.worker.tasks.sweep", "schedule": 15.0, "options": {"expires": 14}},
    "fits marked for computing": {"task": "kits.tasks.compute_fits", "schedule": 10.0, "options": {"expires": 9}},
    "nightly overhaul forecasts": {
        "task": "jobs.tasks.plan_nightly_overhaul_forecasts",
        "schedule": 900.0,
        "options": {"expires": 890},
    },
    "nightly replenishment": {
        "task": "kits.tasks.plan_nightly_replenishment",
        "schedule": 900.0,
        "options": {"expires": 890},
    },
    "nightly exchange of reserved lots": {
        "task": "kits.tasks.plan_nightly_lot_exchange",
        "schedule": 900.0,
        "options": {"expires": 890},
    },
    "nightly lead times": {
        "task": "kits.tasks.plan_nightly_lead_time_learning",
        "schedule": 900.0,
        "options": {"expires": 890},
    },
    "nightly review of late orders": {
        "task": "kits.tasks.plan_nightly_late_order_review",
        "schedule": 900.0,
        "options": {"expires": 890},
    },
    "readiness of jobs": {"task": "jobs.tasks.review_ready_jobs", "schedule": 300.0, "options": {"expires": 290}},
    "clear old retry keys": {"task": "services.worker.tasks.clear_retry_keys", "schedule": 3600.0},
}
