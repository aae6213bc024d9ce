"""Whether a plan.json is one of this site and says of itself what is so.

The audit checks dates against rules. This checks the rest of a plan, whoever wrote or changed it: `refusals` names
what leaves no dates to check, `plan_faults` each thing that it says otherwise than its site or its own dates do.
"""
