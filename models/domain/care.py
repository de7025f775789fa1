"""Short cautions where a sock can hurt. Nothing in this project is a medical device."""

CAUTIONS = (
    "With diabetes, numb or swollen feet or poor circulation, both a tight and a wrinkling heel can"
    " injure: ask a clinician before wearing, and look at the skin afterwards.",
    "Hand-knit soles are slippery on smooth floors.",
    "The survey behind the estimates measured adults only; for infants and children try the sock on"
    " and leave room.",
)
