"""Prices, and what a part, an order and a month cost."""

from schemas.costs import HourlyRateIn, MonthQuery, PriceQuery, PricesIn
from service.api.base import Blueprint
from service.operations.costs import cost, month, pricing

blp = Blueprint("costs", "Prices, and what parts, orders and months cost", right="read_costs")

blp.listing("/prices", pricing.list_prices, PriceQuery)
blp.write("/prices", pricing.give_prices, PricesIn)
blp.listing("/hourly-rates", pricing.list_hourly_rates)
blp.write("/hourly-rates", pricing.set_hourly_rate, HourlyRateIn)
blp.read("/parts/<code(P):part>/cost", cost.read_part_cost)
blp.read("/orders/<number:order>/cost", cost.read_order_cost)
blp.read("/costs", month.read_month_cost, MonthQuery)
