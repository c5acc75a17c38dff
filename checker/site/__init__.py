"""The papers that go with the work: what is ordered, laid, recorded and handed over."""
