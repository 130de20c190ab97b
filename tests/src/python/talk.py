"""One client talks to a server about everything a device or a screen uses. Arguments: port, version (4 or 5)."""
import queue
import socket
import sys

import paho.mqtt.client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

port, version = int(sys.argv[1]), int(sys.argv[2])
WAIT = 60


class Client(mqtt.Client):
    """Connected, with its messages in a queue as (topic, payload, qos, retain)."""

    def __init__(self, name, clean=True, will=None):
        first = {} if version == 5 else {"clean_session": clean}
        super().__init__(mqtt.CallbackAPIVersion.VERSION2, client_id=f"{name}-{version}", protocol=version, **first)
        self.heard, self.answers = queue.Queue(), queue.Queue()
        self.on_message = lambda c, u, m: self.heard.put((m.topic, m.payload.decode(), m.qos, m.retain))
        self.on_connect = lambda c, u, flags, reason, p: self.answers.put((flags.session_present, str(reason)))
        self.on_subscribe = lambda c, u, mid, reasons, p: self.answers.put([r.value for r in reasons])
        if will:
            self.will_set(*will)
        self.connect("127.0.0.1", port, **(self.session(clean) if version == 5 else {}))
        self.loop_start()
        self.resumed, reason = self.answers.get(timeout=WAIT)
        assert reason == "Success", reason

    @staticmethod
    def session(clean):
        kept = Properties(PacketTypes.CONNECT)
        kept.SessionExpiryInterval = 0 if clean else 3600
        return {"clean_start": clean, "properties": kept}

    def hear(self, *filters):
        self.subscribe(list(filters))
        granted = self.answers.get(timeout=WAIT)
        assert granted == [qos for _, qos in filters], granted

    def say(self, topic, payload, qos=1, retain=False):
        self.publish(topic, payload, qos, retain).wait_for_publish(WAIT)

    def expect(self, *message):
        heard = self.heard.get(timeout=WAIT)
        assert heard == message, f"heard {heard}, expected {message}"

    def leave(self):
        self.disconnect()
        self.loop_stop()


root = f"talk/{version}"
speaker, listener = Client("speaker"), Client("listener")

# Delivered at the lower of both qualities [MQTT-3.8.4-6], by + and #, each message once.
listener.hear((f"{root}/+/warm", 1), (f"{root}/deep/#", 0))
speaker.say(f"{root}/a/b/warm", "two levels are not one")
speaker.say(f"{root}/a/warm", "1", qos=1)
listener.expect(f"{root}/a/warm", "1", 1, False)
speaker.say(f"{root}/a/warm", "0", qos=0)
listener.expect(f"{root}/a/warm", "0", 0, False)
speaker.say(f"{root}/deep/x/y", "1", qos=1)
listener.expect(f"{root}/deep/x/y", "1", 0, False)
speaker.say(f"{root}/deep", "# takes its parent in", qos=1)  # MQTT 4.7.1.2
listener.expect(f"{root}/deep", "# takes its parent in", 0, False)

# Retained: marked for who comes later [MQTT-3.3.1-8], not for who is there [MQTT-3.3.1-9], gone when emptied [MQTT-3.3.1-10].
speaker.say(f"{root}/deep/state", "on", retain=True)
listener.expect(f"{root}/deep/state", "on", 0, False)
late = Client("late")
late.hear((f"{root}/deep/state", 1))
late.expect(f"{root}/deep/state", "on", 1, True)
speaker.say(f"{root}/deep/state", "", retain=True)
for client, qos in ((listener, 0), (late, 1)):
    client.expect(f"{root}/deep/state", "", qos, False)
later = Client("later")
later.hear((f"{root}/deep/state", 1))
speaker.say(f"{root}/deep/state", "next")
for client, qos in ((listener, 0), (late, 1), (later, 1)):
    client.expect(f"{root}/deep/state", "next", qos, False)

# A will is sent when the socket breaks [MQTT-3.1.2-8] and not after a goodbye [MQTT-3.14.4-3].
Client("polite", will=(f"{root}/deep/will", "polite", 1)).leave()
broken = Client("broken", will=(f"{root}/deep/will", "broken", 1))
broken.loop_stop()
broken.socket().shutdown(socket.SHUT_RDWR)
listener.expect(f"{root}/deep/will", "broken", 0, False)

# A session that is kept: what came meanwhile is delivered, in order [MQTT-3.1.2-5], [MQTT-3.2.2-2].
kept = Client("kept", clean=False)
assert not kept.resumed
kept.hear((f"{root}/kept/#", 1))
kept.leave()
for n in range(5):
    speaker.say(f"{root}/kept/x", str(n))
kept = Client("kept", clean=False)
assert kept.resumed, "the session is gone"
for n in range(5):
    kept.expect(f"{root}/kept/x", str(n), 1, False)
kept.leave()
assert not Client("kept", clean=True).resumed  # [MQTT-3.1.2-6]

for client in (listener, late, later, speaker):
    client.leave()
    assert client.heard.empty(), client.heard.get()
