"""What things cost: prices, what each draw took along, labour, what was wasted and why."""
