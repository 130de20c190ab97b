"""Reads the QR codes in a picture with zxing-cpp; prints their texts, sorted, as JSON."""

import json
import sys

import zxingcpp
from PIL import Image

codes = zxingcpp.read_barcodes(Image.open(sys.argv[1]).convert("L"))
assert all(code.format.name == "QRCode" for code in codes), codes
print(json.dumps(sorted(code.text for code in codes)))
