"""The engine for languages with a Vosk model: model, grammar, second opinion, spotter."""
