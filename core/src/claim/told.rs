//! What somebody reads who opens the file without this program.

/// In English and German.
pub(super) const READ_ME: &str = "\
This file holds the record of one repair job as it was written while the work was done.

  report.pdf      the job in words and pictures
  readings.csv    every reading, for a spreadsheet
  entries/        what was written down, one file each, in the order of their numbers
  device/         entries of the device itself: its keys, and who joined its roster
  samples/        what the meter sent, as it came
  photos/         photos of the job
  details.json    customer and vehicle; people/ the names of those who signed
  heads/          signatures the device gave while it worked
  manifest.json   the SHA-256 of every other file, and the public key of whoever made this one: the device, or the hub
                  that keeps what the devices of a shop recorded
  manifest.jws    the signature over manifest.json (JWS, RFC 7515, with Ed25519, RFC 8037)

Report, photos, details.json and people/ are missing where nothing personal was to go along.

To check it:  evenwire-cli verify FILE
It says that nothing was changed, or names the first thing that was. It then tells the fingerprint of the key. Compare
it with the one the workshop names: a signature proves that nothing changed since that key signed, not whose key it is.

By hand: each entry names, as \"previous\", the SHA-256 of the entry before it on the same device. Entries of other jobs
are not in this file, so numbers may be missing; the signatures say how many entries the job had, and the SHA-256 of
their hashes one after the other.


Diese Datei enthält die Aufzeichnung eines Reparaturauftrags, wie sie während der Arbeit entstand.

  report.pdf      der Auftrag in Worten und Bildern
  readings.csv    jeder Messwert, für eine Tabelle
  entries/        was aufgeschrieben wurde, je eine Datei, nach Nummern
  device/         Einträge des Geräts selbst: seine Schlüssel, und wer in seine Liste kam
  samples/        was das Messgerät sandte, wie es ankam
  photos/         Fotos des Auftrags
  details.json    Kunde und Fahrzeug; people/ die Namen derer, die unterschrieben
  heads/          Unterschriften, die das Gerät während der Arbeit gab
  manifest.json   die SHA-256 jeder anderen Datei und der öffentliche Schlüssel dessen, der diese gemacht hat: des Geräts
                  oder der Zentrale, die aufhebt, was die Geräte eines Betriebs aufgezeichnet haben
  manifest.jws    die Unterschrift über manifest.json (JWS, RFC 7515, mit Ed25519, RFC 8037)

Bericht, Fotos, details.json und people/ fehlen, wo nichts Persönliches mitgehen sollte.

Prüfen:  evenwire-cli verify DATEI
Das Programm sagt, dass nichts geändert wurde, oder nennt das Erste, das geändert wurde. Dann nennt es den Fingerabdruck
des Schlüssels. Vergleiche ihn mit dem, den die Werkstatt nennt: Eine Unterschrift beweist, dass sich nichts geändert
hat, seit dieser Schlüssel unterschrieb, nicht, wem er gehört.
";
