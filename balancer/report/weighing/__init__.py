"""What the scales say, told: a weigh-in, other states, beside others, and the pads themselves."""
