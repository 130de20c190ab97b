"""Prints the sizes of the pages of a PDF that chromium has made: it leaves page objects in the clear."""

import json
import re
import sys

pdf = open(sys.argv[1], "rb").read()
assert pdf.startswith(b"%PDF-"), pdf[:20]
pages = re.findall(rb"/Type\s*/Page\b(?!s).*?/MediaBox\s*\[0 0 ([0-9.]+) ([0-9.]+)\]", pdf, re.S)
json.dump([[float(width), float(height)] for width, height in pages], sys.stdout)
