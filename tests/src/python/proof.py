"""PUBACK means on disk: in every callback a second connection to the store must see the row.

Arguments: port, version, store, count. One thread does everything, so nothing else can happen between PUBACK and look-up.
"""
import sqlite3
import sys

import paho.mqtt.client as mqtt

port, version, store, count = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3], int(sys.argv[4])
rows = sqlite3.connect(f"file:{store}?mode=ro", uri=True, isolation_level=None)
numbers = {}
seen = []


def acknowledged(client, userdata, mid, reason, properties):
    """mid is the packet id that the PUBACK names."""
    assert not reason.is_failure, reason
    n = numbers[mid]
    found = rows.execute("SELECT value FROM readings WHERE sequence = ?", (n,)).fetchall()
    assert found == [(value(n),)], f"{n} is acknowledged, and in the store is {found}"
    seen.append(n)


def value(n):
    return 26.0 + n % 32 / 16


client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, client_id=f"proof-{version}", protocol=version)
client.on_publish = acknowledged
client.connect("127.0.0.1", port)
while not client.is_connected():
    client.loop(1)
begin = 1704067200 + version * 86400
for n in range(version * 100000, version * 100000 + count):
    payload = f'{{"v":{value(n)},"t":{begin + n % 100000 * 10},"n":{n}}}'
    numbers[client.publish("hatchwarden/undercroft/V1/temperature", payload, qos=1).mid] = n
while len(seen) < count:
    assert client.loop(30) == mqtt.MQTT_ERR_SUCCESS
assert sorted(seen) == sorted(numbers.values())
client.disconnect()
