"""Designs, kits, moulds, and parts from their start to their shipment."""
