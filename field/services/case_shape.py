"""What a case file of `may-i` holds, in words and by an example, for whoever writes one."""

from __future__ import annotations

SEE_EXAMPLE = "'fellside may-i --help' shows a whole case."

EXAMPLE = """\
{
  "here": {"lat": 56.6031, "lon": -3.8952, "accuracy_m": 5},
  "on": "2027-02-20",
  "species": "birch", "girth_mm": 180, "machine": false, "depth_mm": 250,
  "synced_days_ago": 1, "paired_phones": 1,
  "site": {
    "boundary": {"type": "Polygon", "coordinates": [[
      [-3.9, 56.6], [-3.89, 56.6], [-3.89, 56.606], [-3.9, 56.606], [-3.9, 56.6]]]},
    "protected": false, "services_checked": true,
    "consents": [{"kind": "felling_licence", "state": "not_needed", "until": null}]
  },
  "leaves": [{
    "landholder": "Hollin Farm", "form": "signed", "entitled": true, "area": null,
    "starts_on": "2026-11-01", "ends_on": "2027-03-31", "withdrawn_on": null,
    "species": ["birch", "hawthorn"], "max_girth_mm": 300, "allowance": 4, "lifted": 1,
    "conditions": ["close the gates", "fill every hole"]
  }]
}"""
SHAPE = f"""\
a case file is JSON, as this one (the place and the people are invented):

{EXAMPLE}

what must be there: here, on (or the moment "now" with "zone"), site and leaves. What else is left out or null counts as
not known, and may turn a yes into an ask: so does a leave without its form (signed or spoken), a consent without its
state (held, needed, not_needed, unknown), and an allowance without how many are lifted; but an area of null is the
whole site, and a species, girth or allowance of null sets no limit. Without any leave the list is empty: [].

what may be told besides: of a leave its methods, a list out of hand_tools, machine and vehicle (null: not agreed; what
a list leaves out is not allowed), and "changed": true where it was changed after it was signed; of the site "checks", a
list of answers about the ground after which more has to be done, each {{"question": its words, "answer": yes or no,
"ask": whom, "consent": what it leads to}}; of a consent its first day, starts_on, and its name where its kind is other.

units: girth and depth in mm; accuracy in metres, as a phone tells it (68 %); here in degrees, WGS 84; a boundary or
area is a Polygon or MultiPolygon of GeoJSON, longitude first. A leave is good on its first and its last day.

many at once: {{"cases": [{{"name": "by the burn", "input": {{a case}}}}, ...]}}; - reads standard input.

exit status: 0 whatever the answer is; 1 if one of many cases is refused; 2 if the file or its one case is.
"""
