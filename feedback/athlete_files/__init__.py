"""The files about athletes: profiles, drills, prescriptions, signatures, baselines, plans."""
