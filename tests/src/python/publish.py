"""Publishes one message at QoS 1. Arguments: port, version, topic, payload."""
import sys

import paho.mqtt.client as mqtt

port, version, topic, payload = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3], sys.argv[4]
client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=version)
client.connect("127.0.0.1", port)
client.loop_start()
info = client.publish(topic, payload, qos=1)
info.wait_for_publish(30)
assert info.is_published(), "not acknowledged"
client.disconnect()
client.loop_stop()
