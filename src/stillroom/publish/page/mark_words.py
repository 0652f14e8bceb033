"""What the short marks beside numbers mean, for readers who don't know them."""

from __future__ import annotations

from stillroom.lab.pictures.sound.sound_words import OF_TONES
from stillroom.wording import NOT_UNIQUE_WORD

MEANINGS = {
    "nozzle below its Reynolds range": "Some flows were so small that the flow nozzle’s formula hardly holds; their "
    "uncertainty is larger, and counted.",
    OF_TONES: "The sound has a clear tone that was heard at one microphone place only: elsewhere it may be louder "
    "or quieter by some dB.",
    "stated bench accuracy": "The airflow comes from a ready-made bench: its uncertainty is the accuracy that is "
    "stated for it, not one that was worked out here.",
    "on a rising branch": "The fan works where its pressure falls as the flow falls, near stall: small changes of "
    "the obstacle move its airflow much.",
    NOT_UNIQUE_WORD: "Fan and obstacle agree at more than one airflow: any value of the range can occur.",
    "air not recorded": "Temperature, pressure or humidity of the air were not written down; usual values were "
    "taken, with a wide uncertainty.",
}
"""{how a mark begins: its meaning, in a sentence}."""
