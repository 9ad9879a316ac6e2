"""The numbers that rules consume: pure functions on quantities with uncertainty, a module a subject."""

# What `terms.yaml` may name under `calculation:`. `conserve.facts.today` runs them.
CALCULATIONS = (
    "acts_on_part",
    "competence_stated",
    "form_evidence",
    "leave_listed",
    "option_duty",
    "period_of_phase",
    "proposal_kind",
    "review_set",
    "significance_stated",
)
