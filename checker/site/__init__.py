"""The papers that go with the work: what is ordered, installed, recorded and handed over."""
