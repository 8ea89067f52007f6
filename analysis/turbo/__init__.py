"""A run on the compressor's map: air flow, pressure ratio, where the compressor works and how near surge and choke."""
