"""Kinds of change that kits record."""

from services.changes.recording import declare_kinds

declare_kinds(
    {
        "supplier.registered": "A supplier was added.",
        "supplier.changed": "A supplier's name changed.",
        "supplier-terms.agreed": "Terms for an item were agreed with a supplier.",
        "supplier-terms.changed": "Terms for an item changed.",
        "part.registered": "A part was added to the catalogue.",
        "part.changed": "A part's data changed.",
        "supersession.registered": "From a date one part replaces another.",
        "supersession.changed": "The date or direction of a supersession changed.",
        "kit.drafted": "A revision of a kit was drafted.",
        "kit.changed": "A draft of a kit, or its lines, changed.",
        "kit.released": "A revision of a kit was released; its lines never change again.",
        "kit.withdrawn": "A released revision was withdrawn.",
        "coverage.declared": "A maker's word on what a kit is for was added.",
        "lot.registered": "A lot was seen for the first time.",
        "lot.extended": "A lot's storage life was extended after inspection.",
        "stock.moved": "Something was posted to the ledger.",
        "reservation.planned": "A job claims a quantity for a day.",
        "reservation.made": "A job's claim holds named lots.",
        "reservation.moved": "A job's claim moved to another day.",
        "reservation.displaced": "A loss took what a job's claim held; it holds other lots, or none.",
        "reservation.issued": "What a job's claim held was taken off the shelf.",
        "reservation.released": "A job's claim was let go.",
        "order.approved": "An order was begun.",
        "order.line-added": "A line joined an order, or grew.",
        "order.loaded": "An order came in with a file.",
        "order.sent": "An order was handed to its supplier.",
        "order.received": "Goods of an order arrived.",
        "order.receipt-reversed": "A receipt was taken off an order again.",
        "order.closed-short": "The rest of an order will not come.",
        "order.cancelled": "An order was cancelled.",
        "proposal.opened": "Replenishment proposes to buy.",
        "proposal.renewed": "A proposal's quantity or working changed.",
        "proposal.withdrawn": "A proposal is no longer needed.",
        "proposal.approved": "A proposal was approved.",
        "proposal.rejected": "A proposal was rejected until a day.",
        "proposal.snoozed": "A proposal was put off until a day.",
    }
)
