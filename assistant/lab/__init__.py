"""What only developers and doubters run: training, simulated days, measuring, published figures."""
