"""What a form over a site file needs: the draft, its parts and fields, its faults, and words for them."""

from scheduler.site.csv_import import columns, csv_text, heading, import_csv
from scheduler.site.draft import Draft
from scheduler.site.draft_paths import Data, drop, known_ids, put, rows_at, value_at
from scheduler.site.draft_words import changes, field_at, part_of, record_name, spoken
from scheduler.site.drawable import drawable
from scheduler.site.editing import LOOSE, Field, FieldKind, SitePart, fields_of, parts
from scheduler.site.faults import Fault, Path
from scheduler.site.fields import FIRST_YEAR, LAST_YEAR, unit_in_name
from scheduler.site.files import read_text, units_said
from scheduler.site.job_id import new_job_id
from scheduler.site.starting import made_own, write_beside
from scheduler.site.templates import LONGEST_FT, NAMES, SHORTEST_FT, Start, about, copied_site, file_name, new_site
from scheduler.site.yamltext import read_yaml
from scheduler.site.yamlwriting import inline

__all__ = [
    "FIRST_YEAR",
    "LAST_YEAR",
    "LONGEST_FT",
    "LOOSE",
    "NAMES",
    "SHORTEST_FT",
    "Data",
    "Draft",
    "Fault",
    "Field",
    "FieldKind",
    "Path",
    "SitePart",
    "Start",
    "about",
    "changes",
    "columns",
    "copied_site",
    "csv_text",
    "drawable",
    "drop",
    "field_at",
    "fields_of",
    "file_name",
    "heading",
    "import_csv",
    "inline",
    "known_ids",
    "made_own",
    "new_job_id",
    "new_site",
    "part_of",
    "parts",
    "put",
    "read_text",
    "read_yaml",
    "record_name",
    "rows_at",
    "spoken",
    "unit_in_name",
    "units_said",
    "value_at",
    "write_beside",
]
