"""The outbox: delivers the engine's notices, at least once, and retries; it decides nothing."""

from monitor.outbox.channel_thread import DELIVERY_S, Lane, Result
from monitor.outbox.channels import Channel, DeliveryError, MqttChannel, PageChannel
from monitor.outbox.deliverer import Deliverer
from monitor.outbox.heartbeat import Heartbeat
from monitor.outbox.notification_url import AppriseChannel
from monitor.outbox.outgoing_letters import Letter, letter
from monitor.outbox.retry import retry_at
from monitor.outbox.url_faults import url_doubt
