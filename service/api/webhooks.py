"""Webhooks: who is told of what happens, and what becomes of it."""

from schemas.base import ActIn
from schemas.webhooks import DeliveryQuery, ReplayIn, WebhookChange, WebhookIn, WebhookSecretIn
from service.api.base import Blueprint
from service.operations.ledger import telling, webhooks

blp = Blueprint("webhooks", "Webhooks: events that are sent to other systems as they happen", right="read_webhooks")

blp.listing("/webhooks", webhooks.list_webhooks)
blp.write("/webhooks", telling.add_webhook, WebhookIn)
blp.read("/webhooks/<number:webhook>", webhooks.read_webhook)
blp.edit("/webhooks/<number:webhook>", telling.change_webhook, WebhookChange)
blp.write("/webhooks/<number:webhook>/secret", telling.renew_webhook_secret, WebhookSecretIn)
blp.write("/webhooks/<number:webhook>/ending", telling.end_webhook, ActIn)
blp.listing("/webhooks/<number:webhook>/deliveries", webhooks.list_deliveries, DeliveryQuery)
blp.write("/webhooks/<number:webhook>/replays", telling.replay_deliveries, ReplayIn)
