"""The evidence bundle: one folder that a recipient can check without software of ours."""
