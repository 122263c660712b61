<?xml version="1.0" encoding="utf-8"?>
<!DOCTYPE TS>
<TS version="2.1" language="de" sourcelanguage="en">
 <context>
  <name>Algorithm</name>
  <message>
   <source>    held back: {} ({})</source>
   <translation>    zurückgehalten: {} ({})</translation>
  </message>
  <message>
   <source>    left out: {}</source>
   <translation>    weggelassen: {}</translation>
  </message>
  <message>
   <source> without the shift</source>
   <translation> ohne den Versatz</translation>
  </message>
  <message>
   <source>, several separated by semicolons</source>
   <translation>, mehrere durch Semikolon getrennt</translation>
  </message>
  <message>
   <source>1-sigma in metres of the heights of lines without a value in a field “sigma_up”, as “Reconstruct edges” writes it.</source>
   <translation>Standardabweichung (1 Sigma) in Metern für die Höhen der Linien, die keinen Wert in einem Feld „sigma_up“ haben, wie „Kanten rekonstruieren“ es schreibt.</translation>
  </message>
  <message>
   <source>A flatter curve becomes a tangent, or several.</source>
   <translation>Ein flacherer Bogen wird zu einer Geraden oder zu mehreren.</translation>
  </message>
  <message>
   <source>A former table of changes: the existing lines are given back as they were.</source>
   <translation>Eine frühere Tabelle der Änderungen: Die Bestandslinien werden so zurückgegeben, wie sie waren.</translation>
  </message>
  <message>
   <source>A line that is displaced, by more than the uncertainty of both layers explains, is a clear case where more than this share of its visited length has an edge, and every edge is as sure as below.</source>
   <translation>Eine Linie, die um mehr verschoben ist, als die Unsicherheit beider Layer erklärt, ist ein eindeutiger Fall, wenn mehr als dieser Anteil ihrer begangenen Länge eine Kante hat und jede Kante so sicher ist wie unten angegeben.</translation>
  </message>
  <message>
   <source>A longer pause ends the edge. 0: found from the stream's own interval, capture by capture.</source>
   <translation>Eine längere Pause beendet die Kante. 0: wird für jede Aufnahme aus dem Zeitabstand ihres eigenen Datenstroms ermittelt.</translation>
  </message>
  <message>
   <source>A longer step between two epochs ends the edge. 0: found from the stream's own spacing, capture by capture.</source>
   <translation>Ein längerer Schritt zwischen zwei Epochen beendet die Kante. 0: wird für jede Aufnahme aus dem Punktabstand ihres eigenen Datenstroms ermittelt.</translation>
  </message>
  <message>
   <source>A new line gets the day in a field like “valid_from”, a line that is gone gets it in one like “valid_to” and the word “retired” in a text field “status”. They are found by name, and the log says which. Missing ones, “valid_from” and “valid_to”, are added where asked.</source>
   <translation>Eine neue Linie erhält den Tag in einem Feld wie „valid_from“, eine weggefallene in einem wie „valid_to“ und dazu das Wort „retired“ in einem Textfeld „status“. Die Felder werden am Namen erkannt; das Protokoll nennt sie. Fehlende Felder „valid_from“ und „valid_to“ werden auf Wunsch ergänzt.</translation>
  </message>
  <message>
   <source>A page to print and sign: statistics, statements after the standards, and the list of check points.</source>
   <translation>Eine Seite zum Drucken und Unterschreiben: Statistik, Aussagen nach den Normen und die Liste der Prüfpunkte.</translation>
  </message>
  <message>
   <source>A page to print and sign: what changed, by how much, who decided, and what was held back. None is written when changes are taken back.</source>
   <translation>Eine Seite zum Drucken und Unterschreiben: was sich geändert hat, um wie viel, wer entschieden hat und was zurückgestellt wurde. Beim Zurücknehmen von Änderungen wird keine geschrieben.</translation>
  </message>
  <message>
   <source>A page to print and sign: what was compared, how, and what was found.</source>
   <translation>Eine Seite zum Drucken und Unterschreiben: was womit und wie verglichen wurde und was gefunden wurde.</translation>
  </message>
  <message>
   <source>A point needs at least this many epochs after gross ones are left out; with fewer they are rejected as “too_few”.</source>
   <translation>Ein Punkt braucht nach dem Weglassen grober Fehler mindestens so viele Epochen; sind es weniger, werden sie als „too_few“ verworfen.</translation>
  </message>
  <message>
   <source>A spot point that is farther from the nearest control point is none of it. More than the shift that is feared, less than the points are apart.</source>
   <translation>Ein Einzelpunkt, der weiter vom nächsten Festpunkt entfernt ist, gehört zu keinem. Größer als der befürchtete Versatz, kleiner als der Abstand der Punkte voneinander.</translation>
  </message>
  <message>
   <source>A table of all findings, each with the order of its place.</source>
   <translation>Eine Tabelle aller Befunde, jeder mit der Reihenfolgenummer seines Ortes.</translation>
  </message>
  <message>
   <source>A table of all walks: which edge each went into, and how far off it lies.</source>
   <translation>Eine Tabelle aller Begehungen: in welche Kante jede einging und wie weit sie davon abliegt.</translation>
  </message>
  <message>
   <source>A table of counts, lengths and statistics of the layers as wholes.</source>
   <translation>Eine Tabelle mit Anzahlen, Längen und Statistik der Layer als Ganzes.</translation>
  </message>
  <message>
   <source>A tighter curve becomes a corner, or several tangents.</source>
   <translation>Ein engerer Bogen wird zu einer Ecke oder zu mehreren Geraden.</translation>
  </message>
  <message>
   <source>Accept sentences without checksum</source>
   <translation>NMEA-Sätze ohne Prüfsumme zulassen</translation>
  </message>
  <message>
   <source>Accepted, and held back all the same: {}. Repair these lines, or draw them by hand.</source>
   <translation>Angenommen und trotzdem zurückgehalten: {}. Reparieren Sie diese Linien, oder zeichnen Sie sie von Hand.</translation>
  </message>
  <message>
   <source>Add new edges</source>
   <translation>Neue Kanten hinzufügen</translation>
  </message>
  <message>
   <source>Adds edges that have no counterpart.</source>
   <translation>Fügt Kanten hinzu, die kein Gegenstück haben.</translation>
  </message>
  <message>
   <source>After a longer pause a stop at the same place is a point of its own. 0: pauses at one place do not matter.</source>
   <translation>Nach einer längeren Pause ist ein Halt am selben Ort ein eigener Punkt. 0: Pausen am selben Ort spielen keine Rolle.</translation>
  </message>
  <message>
   <source>Alignments</source>
   <translation>Trassierungen</translation>
  </message>
  <message>
   <source>Alignments: {} from “{}”, {:.2f} m on the ground, {} of them closed.</source>
   <translation>Trassierungen: {} aus „{}“, {:.2f} m Länge in der Örtlichkeit, davon {} geschlossen.</translation>
  </message>
  <message>
   <source>All check points ({}) lie on what is tested, to the last digit: it seems to be compared with itself, or with what it was made from. Check which layers are chosen.</source>
   <translation>Alle Prüfpunkte ({}) liegen bis auf die letzte Stelle auf dem, was geprüft wird: Es scheint mit sich selbst verglichen zu werden oder mit dem, woraus es gemacht wurde. Prüfen, welche Layer gewählt sind.</translation>
  </message>
  <message>
   <source>All edges, merged and not, as lines with heights in the layer's CRS.</source>
   <translation>Alle Kanten, zusammengeführt oder nicht, als Linien mit Höhen im KBS des Layers.</translation>
  </message>
  <message>
   <source>All positions lie within {:g} m of each other: check the CRS of the layer, and the transformation that the project sets for it.</source>
   <translation>Alle Positionen liegen innerhalb von {:g} m beieinander: das KBS des Layers prüfen und die Transformation, die das Projekt dafür festlegt.</translation>
  </message>
  <message>
   <source>All was done in one process, since others could not be used: {}.</source>
   <translation>Alles wurde in einem einzigen Prozess berechnet, da weitere nicht verwendet werden konnten: {}.</translation>
  </message>
  <message>
   <source>All {} GGA sentences in {} were rejected, most of them as “{}”. {}</source>
   <translation>Alle {} GGA-Sätze in {} wurden verworfen, die meisten als „{}“. {}</translation>
  </message>
  <message>
   <source>Along the edges, from their start; used for the stations alone.</source>
   <translation>Entlang der Kanten, von ihrem Anfang an; nur für die Stationen verwendet.</translation>
  </message>
  <message>
   <source>An edge, or several joined ones, that come back to their start become a ring. Otherwise they stay open where they fit worst.</source>
   <translation>Eine Kante oder mehrere verbundene, die zu ihrem Anfang zurückkehren, werden zum Ring. Sonst bleiben sie dort offen, wo sie am schlechtesten zusammenpassen.</translation>
  </message>
  <message>
   <source>Arcs</source>
   <translation>Kreisbögen</translation>
  </message>
  <message>
   <source>Area in the report</source>
   <translation>Gebiet im Bericht</translation>
  </message>
  <message>
   <source>Author in the report</source>
   <translation>Bearbeitung im Bericht</translation>
  </message>
  <message>
   <source>Automatic</source>
   <translation>Automatisch</translation>
  </message>
  <message>
   <source>Averaged points</source>
   <translation>Gemittelte Punkte</translation>
  </message>
  <message>
   <source>Beside the layers, or in their place: a folder whose files are taken, or a pattern like “days/**/*.gpkg”. All layers of points and lines are taken, those of a GeoPackage one by one, by path and name. What cannot be epochs is named in the log and passed over, as is what this run uses otherwise; results in the folder for the results are never taken.</source>
   <translation>Neben den Layern oder an ihrer Stelle: ein Ordner, dessen Dateien verwendet werden, oder ein Muster wie „days/**/*.gpkg“. Verwendet werden alle Layer mit Punkten oder Linien, die eines GeoPackage einzeln, geordnet nach Pfad und Name. Was keine Epochen sein können, wird im Protokoll genannt und übergangen, ebenso, was dieser Lauf anderweitig verwendet; Ergebnisse im Ergebnisordner werden nie verwendet.</translation>
  </message>
  <message>
   <source>Blend length (m)</source>
   <translation>Überblendlänge (m)</translation>
  </message>
  <message>
   <source>Break reasons that count</source>
   <translation>Gründe für Unterbrechungen, die zählen</translation>
  </message>
  <message>
   <source>Breaks to keep</source>
   <translation>Zu erhaltende Unterbrechungen</translation>
  </message>
  <message>
   <source>CRS of the results</source>
   <translation>KBS der Ergebnisse</translation>
  </message>
  <message>
   <source>CRS of the results: {}.</source>
   <translation>KBS der Ergebnisse: {}.</translation>
  </message>
  <message>
   <source>Cancelled while “{}” was written: it is not complete.</source>
   <translation>Abgebrochen, während „{}“ geschrieben wurde: unvollständig.</translation>
  </message>
  <message>
   <source>Cancelled: “{}” is as it was. Other results of this run are whole; they say what would have changed.</source>
   <translation>Abgebrochen: „{}“ ist, wie es war. Andere Ergebnisse dieses Laufs sind vollständig; sie sagen, was sich geändert hätte.</translation>
  </message>
  <message>
   <source>Capture</source>
   <translation>Aufnahme</translation>
  </message>
  <message>
   <source>Capture layers</source>
   <translation>Aufnahmelayer</translation>
  </message>
  <message>
   <source>Capture of rejected epochs</source>
   <translation>Aufnahme der verworfenen Epochen</translation>
  </message>
  <message>
   <source>Captures: {}. Stream: one epoch in {} s, {} m apart.</source>
   <translation>Aufnahmen: {}. Datenstrom: eine Epoche je {} s, {} m Abstand.</translation>
  </message>
  <message>
   <source>Caution</source>
   <translation>Vorsicht</translation>
  </message>
  <message>
   <source>Change the existing layer itself</source>
   <translation>Den Bestandslayer selbst ändern</translation>
  </message>
  <message>
   <source>Changes</source>
   <translation>Änderungen</translation>
  </message>
  <message>
   <source>Changes at ends</source>
   <translation>Änderungen an Enden</translation>
  </message>
  <message>
   <source>Changes made by hand</source>
   <translation>Von Hand vorgenommene Änderungen</translation>
  </message>
  <message>
   <source>Changes of existing lines</source>
   <translation>Änderungen der Bestandslinien</translation>
  </message>
  <message>
   <source>Changes of “Join edge ends”; ends left open count.</source>
   <translation>Änderungen aus „Kantenenden verbinden“; offen gelassene Enden zählen.</translation>
  </message>
  <message>
   <source>Changes superseded</source>
   <translation>Überholte Änderungen</translation>
  </message>
  <message>
   <source>Changes to take back</source>
   <translation>Zurückzunehmende Änderungen</translation>
  </message>
  <message>
   <source>Check points</source>
   <translation>Prüfpunkte</translation>
  </message>
  <message>
   <source>Check points beyond the end of the nearest line, which are set aside: {}.</source>
   <translation>Prüfpunkte jenseits des Endes der nächsten Linie, die außer Betracht bleiben: {}.</translation>
  </message>
  <message>
   <source>Check points in “{}”: {}. Compared with “{}”: {}.</source>
   <translation>Prüfpunkte in „{}“: {}. Verglichen mit „{}“: {}.</translation>
  </message>
  <message>
   <source>Check points without a partner, which are set aside: {}.</source>
   <translation>Prüfpunkte ohne Gegenstück, die außer Betracht bleiben: {}.</translation>
  </message>
  <message>
   <source>Check points without a position, or without one in the CRS of the tested layer: {}.</source>
   <translation>Prüfpunkte ohne Position oder ohne eine im KBS des geprüften Layers: {}.</translation>
  </message>
  <message>
   <source>Check the field in “{}”: it parts what belongs together.</source>
   <translation>Das Feld in „{}“ prüfen: Es trennt, was zusammengehört.</translation>
  </message>
  <message>
   <source>Check the geometry: rows must hold single points, as the layer says, and its CRS must be the right one.</source>
   <translation>Die Geometrie prüfen: Die Zeilen müssen einzelne Punkte enthalten, wie es der Layer angibt, und sein KBS muss stimmen.</translation>
  </message>
  <message>
   <source>Check “{}” (field “{}” was used) and “{}”, or capture with a fixed solution.</source>
   <translation>„{}“ prüfen (verwendet wurde Feld „{}“), ebenso „{}“, oder mit fixierter Lösung aufnehmen.</translation>
  </message>
  <message>
   <source>Checked points</source>
   <translation>Ausgewertete Prüfpunkte</translation>
  </message>
  <message>
   <source>Checksums of the geometries</source>
   <translation>Prüfsummen der Geometrien</translation>
  </message>
  <message>
   <source>Choose the field that holds the time in “{}”.</source>
   <translation>Das Feld mit der Zeit in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Circles of the ground are no circles in the layer's CRS ({0}). Elements that are written in pieces, within {2:.0f} mm of them: {1}. Radii, lengths and centres in the table hold. To draw, reproject the input to a projected CRS first.</source>
   <translation>Kreise der Örtlichkeit sind im KBS des Layers ({0}) keine Kreise. Elemente, die in Stücken geschrieben werden, die höchstens {2:.0f} mm von ihnen abweichen: {1}. Radien, Längen und Mittelpunkte in der Tabelle gelten. Zum Zeichnen die Eingabe zuerst in ein projiziertes KBS transformieren.</translation>
  </message>
  <message>
   <source>Clear case: maximum uncertainty (m)</source>
   <translation>Eindeutiger Fall: Unsicherheit kleiner als (m)</translation>
  </message>
  <message>
   <source>Clear case: minimum matched share (0 to 1)</source>
   <translation>Eindeutiger Fall: zugeordnet auf einem Anteil von mehr als (0 bis 1)</translation>
  </message>
  <message>
   <source>Close rings</source>
   <translation>Ringe schließen</translation>
  </message>
  <message>
   <source>Closed rings as PolygonZ, with area (m² on the ground, in plan). Rings within rings make no holes.</source>
   <translation>Geschlossene Ringe als PolygonZ mit Fläche (m² in der Örtlichkeit, im Grundriss). Ringe in Ringen bilden keine Löcher.</translation>
  </message>
  <message>
   <source>Cluster distance (m)</source>
   <translation>Abstand für die Zusammenfassung (m)</translation>
  </message>
  <message>
   <source>Compared edges</source>
   <translation>Verglichene Kanten</translation>
  </message>
  <message>
   <source>Comparison with existing lines</source>
   <translation>Vergleich mit Bestandslinien</translation>
  </message>
  <message>
   <source>Comparison: {}</source>
   <translation>Vergleich: {}</translation>
  </message>
  <message>
   <source>Completeness {}, correctness {} (buffer of {:.4g} m).</source>
   <translation>Vollständigkeit {}, Korrektheit {} (Puffer von {:.4g} m).</translation>
  </message>
  <message>
   <source>Confidence (0 to 1)</source>
   <translation>Vertrauensniveau (0 bis 1)</translation>
  </message>
  <message>
   <source>Control points</source>
   <translation>Festpunkte</translation>
  </message>
  <message>
   <source>Corners</source>
   <translation>Ecken</translation>
  </message>
  <message>
   <source>Count offsets to the left</source>
   <translation>Querabstände nach links zählen</translation>
  </message>
  <message>
   <source>Cross-section (m)</source>
   <translation>Querprofil (m)</translation>
  </message>
  <message>
   <source>Cross-section: {}.</source>
   <translation>Querprofil: {}.</translation>
  </message>
  <message>
   <source>Curbwright: {}</source>
   <translation>Curbwright: {}</translation>
  </message>
  <message>
   <source>Curve model</source>
   <translation>Kurvenmodell</translation>
  </message>
  <message>
   <source>Date</source>
   <translation>Datum</translation>
  </message>
  <message>
   <source>Date: {}.</source>
   <translation>Datum: {}.</translation>
  </message>
  <message>
   <source>Days shifted against control points</source>
   <translation>Tage, die laut Festpunktkontrolle abweichen</translation>
  </message>
  <message>
   <source>Decisions on existing lines</source>
   <translation>Entscheidungen zu Bestandslinien</translation>
  </message>
  <message>
   <source>Disagreements</source>
   <translation>Widersprüche</translation>
  </message>
  <message>
   <source>Disagreements of “Merge repeat passes”.</source>
   <translation>Widersprüche aus „Wiederholte Durchgänge zusammenführen“.</translation>
  </message>
  <message>
   <source>Disagreements that count</source>
   <translation>Widersprüche, die zählen</translation>
  </message>
  <message>
   <source>Disagreements: {} ({}). They were not averaged; “{}” lists them.</source>
   <translation>Widersprüche: {} ({}). Sie wurden nicht gemittelt; „{}“ führt sie auf.</translation>
  </message>
  <message>
   <source>Displaced existing lines: {} with the shift of the whole layer left in, {} with it taken out. {}</source>
   <translation>Verschobene Bestandslinien: {} mit dem Gesamtversatz des Layers, {} ohne ihn. {}</translation>
  </message>
  <message>
   <source>Displaced existing lines: {}. There is no significant shift of the whole layer.</source>
   <translation>Verschobene Bestandslinien: {}. Es gibt keinen signifikanten Gesamtversatz des Layers.</translation>
  </message>
  <message>
   <source>Distance between stations (m)</source>
   <translation>Stationsabstand (m)</translation>
  </message>
  <message>
   <source>Distance of the input from the elements: median RMS {:.1f} mm, maximum {:.1f} mm.</source>
   <translation>Abstand der Eingabe von den Elementen: RMS {:.1f} mm im Median, höchstens {:.1f} mm.</translation>
  </message>
  <message>
   <source>Done: {}.</source>
   <translation>Fertig: {}.</translation>
  </message>
  <message>
   <source>Doubtful positions</source>
   <translation>Zweifelhafte Positionen</translation>
  </message>
  <message>
   <source>Each change, with the geometry before and what it takes to undo it.</source>
   <translation>Jede Änderung mit der Geometrie davor und allem, was zum Zurücknehmen nötig ist.</translation>
  </message>
  <message>
   <source>Each field explains itself when the pointer rests on it. The Help button opens the whole page: when to use it, sensible values, all fields of the results, limits.</source>
   <translation>Jedes Feld erklärt sich, wenn der Mauszeiger darauf ruht. Der Knopf „Hilfe“ öffnet die ganze Seite (auf Englisch): wozu es dient, sinnvolle Werte, alle Felder der Ergebnisse, Grenzen.</translation>
  </message>
  <message>
   <source>Edges</source>
   <translation>Kanten</translation>
  </message>
  <message>
   <source>Edges and stations with a greater sigma_cross (1-sigma) count, and walks that lie farther off the others.</source>
   <translation>Es zählen Kanten und Stationen mit größerem sigma_cross (1 Sigma) sowie Begehungen, die weiter von den anderen abliegen.</translation>
  </message>
  <message>
   <source>Edges and stations with a greater sigma_up (1-sigma) count, and walks that lie farther off the others in height.</source>
   <translation>Es zählen Kanten und Stationen mit größerem sigma_up (1 Sigma) sowie Begehungen, die in der Höhe weiter von den anderen abliegen.</translation>
  </message>
  <message>
   <source>Edges are joined only where all these fields have the same value, for example the capture, the day, or what was walked (top, flow line). Empty values agree with each other. Left empty, any edges are joined.</source>
   <translation>Kanten werden nur verbunden, wo alle diese Felder denselben Wert haben, zum Beispiel die Aufnahme, der Tag oder was begangen wurde (Oberkante, Rinnensohle). Leere Werte stimmen miteinander überein. Leer gelassen, werden beliebige Kanten verbunden.</translation>
  </message>
  <message>
   <source>Edges as lines, in any CRS, with or without Z; or kept epochs as points, with the fields edge_id and chainage (role and height_used are minded where they are there), rows in any order.</source>
   <translation>Kanten als Linien, in beliebigem KBS, mit oder ohne Z; oder behaltene Epochen als Punkte mit den Feldern edge_id und chainage (role und height_used werden beachtet, wo vorhanden), Zeilen in beliebiger Reihenfolge.</translation>
  </message>
  <message>
   <source>Edges as reconstructed, all walks in one layer, in any CRS, with or without Z, in any order and direction.</source>
   <translation>Kanten wie rekonstruiert, alle Begehungen in einem Layer, in beliebigem KBS, mit oder ohne Z, in beliebiger Reihenfolge und Richtung.</translation>
  </message>
  <message>
   <source>Edges as “Reconstruct edges” writes them, or any other lines, in any CRS, with or without Z. Each part of a multi-part line is an edge.</source>
   <translation>Kanten, wie „Kanten rekonstruieren“ sie schreibt, oder beliebige andere Linien, in beliebigem KBS, mit oder ohne Z. Jeder Teil einer mehrteiligen Linie ist eine Kante.</translation>
  </message>
  <message>
   <source>Edges captured along the foot of the curb or the flow line, with Z, in any CRS; heights of the same kind (ellipsoidal or orthometric) as those of the tops.</source>
   <translation>Am Bordfuß oder in der Rinnensohle aufgenommene Kanten, mit Z, in beliebigem KBS; Höhen derselben Art (ellipsoidisch oder orthometrisch) wie die der Oberkanten.</translation>
  </message>
  <message>
   <source>Edges captured along the top of the curb, with Z, in any CRS.</source>
   <translation>Auf der Bordoberkante aufgenommene Kanten, mit Z, in beliebigem KBS.</translation>
  </message>
  <message>
   <source>Edges of tangents and arcs: {}, splines: {}. Rings: {}.</source>
   <translation>Kanten aus Geraden und Kreisbögen: {}, Splines: {}. Ringe: {}.</translation>
  </message>
  <message>
   <source>Edges or kept epochs</source>
   <translation>Kanten oder behaltene Epochen</translation>
  </message>
  <message>
   <source>Edges read</source>
   <translation>Gelesene Kanten</translation>
  </message>
  <message>
   <source>Edges that depart from their elements somewhere by more than twice “{}” and three times their own uncertainty: {}. Look at their max_residual; raise the tolerance where the edges are rougher.</source>
   <translation>Kanten, die irgendwo um mehr als das Doppelte von „{}“ und das Dreifache ihrer eigenen Unsicherheit von ihren Elementen abweichen: {}. Ihr max_residual ansehen; die Toleranz erhöhen, wo die Kanten rauer sind.</translation>
  </message>
  <message>
   <source>Edges that differ in one of these fields are never merged, for example top, face and flow line of a curb. Left empty, position and height decide.</source>
   <translation>Kanten, die sich in einem dieser Felder unterscheiden, werden nie zusammengeführt, zum Beispiel Oberkante, Ansichtsfläche und Rinnensohle eines Bordsteins. Leer gelassen, entscheiden Lage und Höhe.</translation>
  </message>
  <message>
   <source>Edges that repeat another one vertex by vertex: {}. Copies are no further walks and got no weight. Was a layer merged with itself?</source>
   <translation>Kanten, die eine andere Stützpunkt für Stützpunkt wiederholen: {}. Kopien sind keine weiteren Begehungen und erhielten kein Gewicht. Wurde ein Layer mit sich selbst zusammengeführt?</translation>
  </message>
  <message>
   <source>Edges with sigma_cross, sigma_up, start_reason or end_reason. If passes are given, the edges that were merged.</source>
   <translation>Kanten mit sigma_cross, sigma_up, start_reason oder end_reason. Sind Durchgänge angegeben, die Kanten, die zusammengeführt wurden.</translation>
  </message>
  <message>
   <source>Edges, in any CRS, with or without Z. Each part of a multi-part line is an edge.</source>
   <translation>Kanten, in beliebigem KBS, mit oder ohne Z. Jeder Teil einer mehrteiligen Linie ist eine Kante.</translation>
  </message>
  <message>
   <source>Edges: {} from {} of “{}”, {:.2f} m from {:.2f} m. {}.</source>
   <translation>Kanten: {} aus {} von „{}“, {:.2f} m aus {:.2f} m. {}.</translation>
  </message>
  <message>
   <source>Edges: {} from “{}” (called by {}) make {}, {:.2f} m on the ground, {} of them closed.</source>
   <translation>Kanten: {} aus „{}“ (benannt nach {}) ergeben {}, {:.2f} m Länge in der Örtlichkeit, davon {} geschlossen.</translation>
  </message>
  <message>
   <source>Edges: {}, {:.2f} m on the ground in all, {} vertices. Gaps: {}.</source>
   <translation>Kanten: {}, zusammen {:.2f} m Länge in der Örtlichkeit, {} Stützpunkte. Lücken: {}.</translation>
  </message>
  <message>
   <source>Elements</source>
   <translation>Elemente</translation>
  </message>
  <message>
   <source>Elements: tangents {}, arcs {}, corners {}.</source>
   <translation>Elemente: Geraden {}, Kreisbögen {}, Ecken {}.</translation>
  </message>
  <message>
   <source>Ends joined</source>
   <translation>Verbundene Enden</translation>
  </message>
  <message>
   <source>Ends joined: {}. Extended to corners: {}. Rings closed: {}. Left open: {}.</source>
   <translation>Verbundene Enden: {}. Durch Verlängern gebildete Ecken: {}. Geschlossene Ringe: {}. Offen gelassen: {}.</translation>
  </message>
  <message>
   <source>Ends nearer to each other, or to the edge that they end on, can be sorted out at the desk. 0: all count. Those of a junction, whose distance is not told, always do.</source>
   <translation>Enden, die näher beieinander oder an der Kante liegen, auf der sie enden, lassen sich im Innendienst klären. 0: alle zählen. Die Enden einer Einmündung, deren Abstand nicht angegeben ist, zählen immer.</translation>
  </message>
  <message>
   <source>Ends that broke off for these reasons (fields start_reason and end_reason, as “Reconstruct edges” writes them) stay open, whatever lies near: for example “paused” where walkers pause at driveways. Nothing chosen: no break is kept.</source>
   <translation>Enden, die aus diesen Gründen abbrachen (Felder start_reason und end_reason, wie „Kanten rekonstruieren“ sie schreibt), bleiben offen, was immer in der Nähe liegt: zum Beispiel „paused“, wo bei der Begehung an Grundstückszufahrten pausiert wird. Nichts gewählt: keine Unterbrechung bleibt erhalten.</translation>
  </message>
  <message>
   <source>Ends whose heights differ by more where they would meet are not joined: one may be the top of a curb and the other one its foot. 0.10 m is three times the noise of two RTK heights, and less than a typical curb. Edges without heights are not held back.</source>
   <translation>Enden, deren Höhen an der Verbindungsstelle stärker voneinander abweichen, werden nicht verbunden: Das eine kann die Oberkante, das andere der Fuß eines Bordsteins sein. 0,10 m sind das Dreifache des Rauschens zweier RTK-Höhen und weniger als ein üblicher Bord. Kanten ohne Höhen werden nicht zurückgehalten.</translation>
  </message>
  <message>
   <source>Epochs</source>
   <translation>Epochen</translation>
  </message>
  <message>
   <source>Epochs are {} m apart: nobody walks so fast, and edges drawn through them would be straight lines between far places. Check the field in “{}”, and the times.</source>
   <translation>Die Epochen liegen {} m auseinander: So schnell geht niemand, und durch sie gezogene Kanten wären gerade Linien zwischen weit entfernten Orten. Das Feld in „{}“ und die Zeiten prüfen.</translation>
  </message>
  <message>
   <source>Epochs as points, in any CRS, with or without Z, rows in any order; or lines, with M as the time of each vertex or in the order of their vertices; or polygons, each ring of which is a capture.</source>
   <translation>Epochen als Punkte, in beliebigem KBS, mit oder ohne Z, Zeilen in beliebiger Reihenfolge; oder Linien, mit M als Zeit jedes Stützpunkts oder in der Reihenfolge ihrer Stützpunkte; oder Polygone, von denen jeder Ring eine Aufnahme ist.</translation>
  </message>
  <message>
   <source>Epochs collapsed while standing still: {}. Heights dropped as spikes: {}.</source>
   <translation>Bei Stillstand zusammengefasste Epochen: {}. Als Ausreißer verworfene Höhen: {}.</translation>
  </message>
  <message>
   <source>Epochs kept</source>
   <translation>Behaltene Epochen</translation>
  </message>
  <message>
   <source>Epochs of different captures never follow each other. Left empty, it is found by name.</source>
   <translation>Epochen verschiedener Aufnahmen folgen nie aufeinander. Leer gelassen, wird das Feld am Namen erkannt.</translation>
  </message>
  <message>
   <source>Epochs of one stop lie within this distance of its middle. More than the noise, less than a step.</source>
   <translation>Die Epochen eines Halts liegen innerhalb dieses Abstands von seiner Mitte. Mehr als das Rauschen, weniger als ein Schritt.</translation>
  </message>
  <message>
   <source>Epochs read</source>
   <translation>Gelesene Epochen</translation>
  </message>
  <message>
   <source>Epochs read: {} from “{}”.</source>
   <translation>Gelesene Epochen: {} aus „{}“.</translation>
  </message>
  <message>
   <source>Epochs read: {} from “{}”. Used: {}. Rejected: {}.</source>
   <translation>Gelesene Epochen: {} aus „{}“. Verwendet: {}. Verworfen: {}.</translation>
  </message>
  <message>
   <source>Epochs rejected</source>
   <translation>Verworfene Epochen</translation>
  </message>
  <message>
   <source>Epochs rejected in a row over less ground are no stretch to walk again: whoever stood there passes on. 0: their number decides alone.</source>
   <translation>Aufeinanderfolgende verworfene Epochen auf einer kürzeren Strecke sind kein Abschnitt für eine Nachbegehung: Wer dort stand, ist weitergegangen. 0: allein ihre Anzahl entscheidet.</translation>
  </message>
  <message>
   <source>Epochs taken standing still: {}, places: {}. Heights dropped as spikes: {}.</source>
   <translation>Epochen im Stillstand: {}, Orte: {}. Als Ausreißer verworfene Höhen: {}.</translation>
  </message>
  <message>
   <source>Epochs that can be used, with every source field.</source>
   <translation>Verwendbare Epochen mit allen Feldern der Quelle.</translation>
  </message>
  <message>
   <source>Epochs that cannot be used, with every source field, the reason, and the detail in words.</source>
   <translation>Nicht verwendbare Epochen mit allen Feldern der Quelle, dem Grund und der Einzelheit in Worten.</translation>
  </message>
  <message>
   <source>Epochs that were not used, with every source field, the reason, and the detail in words.</source>
   <translation>Nicht verwendete Epochen mit allen Feldern der Quelle, dem Grund und der Einzelheit in Worten.</translation>
  </message>
  <message>
   <source>Epochs that were not used, with the reason, and the detail in words.</source>
   <translation>Nicht verwendete Epochen mit dem Grund und der Einzelheit in Worten.</translation>
  </message>
  <message>
   <source>Epochs that were used, with every source field, their point and the residuals in metres.</source>
   <translation>Verwendete Epochen mit allen Feldern der Quelle, ihrem Punkt und den Residuen in Metern.</translation>
  </message>
  <message>
   <source>Epochs that were used, with their edge, chainage and residuals in metres.</source>
   <translation>Verwendete Epochen mit ihrer Kante, Stationierung und den Residuen in Metern.</translation>
  </message>
  <message>
   <source>Epochs used</source>
   <translation>Verwendete Epochen</translation>
  </message>
  <message>
   <source>Epochs whose reported horizontal accuracy (1-sigma, metres) is greater are rejected as “poor_accuracy”.</source>
   <translation>Epochen, deren gemeldete Lagegenauigkeit (1 Sigma, Meter) größer ist, werden als „poor_accuracy“ verworfen.</translation>
  </message>
  <message>
   <source>Epochs without a sigma, as no GST has their time: {}.</source>
   <translation>Epochen ohne Sigma, weil kein GST ihre Zeit hat: {}.</translation>
  </message>
  <message>
   <source>Epochs: {}. Fix quality: {}.</source>
   <translation>Epochen: {}. Lösungsqualität: {}.</translation>
  </message>
  <message>
   <source>Every check point with its state, errors in metres and a flag for outliers.</source>
   <translation>Jeder Prüfpunkt mit seinem Zustand, den Abweichungen in Metern und einer Kennzeichnung für Ausreißer.</translation>
  </message>
  <message>
   <source>Every join with the distance moved, and every end near another edge that was left open, with the reason.</source>
   <translation>Jede Verbindung mit dem Betrag der Verschiebung und jedes offen gelassene Ende nahe einer anderen Kante mit dem Grund.</translation>
  </message>
  <message>
   <source>Existing lines</source>
   <translation>Bestandslinien</translation>
  </message>
  <message>
   <source>Existing lines count only where so much of them has no edge.</source>
   <translation>Bestandslinien zählen nur, wo sie auf mindestens dieser Länge keine Kante haben.</translation>
  </message>
  <message>
   <source>Existing lines with their status, of “Compare edges with existing linework”.</source>
   <translation>Bestandslinien mit ihrem Status aus „Kanten mit Bestandslinien vergleichen“.</translation>
  </message>
  <message>
   <source>Extended to corners</source>
   <translation>Durch Verlängern gebildete Ecken</translation>
  </message>
  <message>
   <source>Fail if a layer or stage fails</source>
   <translation>Mit einem Fehler enden, wenn ein Layer oder ein Schritt fehlschlug</translation>
  </message>
  <message>
   <source>Field by which tested points or lines are paired with check points. Give both identifiers, or neither: then the nearest one counts.</source>
   <translation>Feld, über das geprüfte Punkte oder Linien den Prüfpunkten zugeordnet werden. Beide Kennungen angeben oder keine: Dann gilt das nächstgelegene Objekt.</translation>
  </message>
  <message>
   <source>Field mapping for added lines</source>
   <translation>Felder hinzugefügter Linien</translation>
  </message>
  <message>
   <source>Field of the check points that holds the same identifiers.</source>
   <translation>Feld der Prüfpunkte mit denselben Kennungen.</translation>
  </message>
  <message>
   <source>Field or fields that tell one capture (one walk along one edge) from another. A line never runs from one capture into the next. Left empty, it is found by name; without one the layer is one capture, broken by time and distance.</source>
   <translation>Ein oder mehrere Felder, die eine Aufnahme (eine Begehung einer Kante) von der anderen unterscheiden. Eine Linie läuft nie von einer Aufnahme in die nächste. Leer gelassen, wird das Feld am Namen erkannt; ohne ein solches ist der Layer eine einzige Aufnahme, unterbrochen nach Zeit und Abstand.</translation>
  </message>
  <message>
   <source>Field that marks edges to mirror</source>
   <translation>Feld für umzudrehende Kanten</translation>
  </message>
  <message>
   <source>Field with the uncertainty of each edge across its direction, 1-sigma in metres. Left empty, a field “sigma_cross” is taken where there is one, else the edges count as free of error.</source>
   <translation>Feld mit der Unsicherheit jeder Kante quer zu ihrer Richtung, als Standardabweichung (1 Sigma) in Metern. Leer gelassen, wird ein Feld „sigma_cross“ verwendet, wo es eines gibt; sonst gelten die Kanten als fehlerfrei.</translation>
  </message>
  <message>
   <source>Field with the uncertainty of each edge, 1-sigma in metres. Left empty, a field “sigma_cross” is taken where there is one.</source>
   <translation>Feld mit der Unsicherheit jeder Kante, als Standardabweichung (1 Sigma) in Metern. Leer gelassen, wird ein Feld „sigma_cross“ verwendet, wo es eines gibt.</translation>
  </message>
  <message>
   <source>Field “{}” may hold heights: where it does, bring it into the points first, with “Set Z value”, or as the Z field where a text file is opened.</source>
   <translation>Feld „{}“ enthält vielleicht Höhen: dann geben Sie sie den Punkten zuerst mit, mit „Z-Wert setzen“ oder als Z-Feld beim Öffnen einer Textdatei.</translation>
  </message>
  <message>
   <source>Fields that must agree</source>
   <translation>Felder, die übereinstimmen müssen</translation>
  </message>
  <message>
   <source>Fields that tell edges apart</source>
   <translation>Felder zur Unterscheidung der Kanten</translation>
  </message>
  <message>
   <source>Fields that tell the edges of epochs apart</source>
   <translation>Felder zur Unterscheidung der Kanten von Epochen</translation>
  </message>
  <message>
   <source>Findings</source>
   <translation>Befunde</translation>
  </message>
  <message>
   <source>Findings within this distance of a place become one with it. 0: only what lies on one spot.</source>
   <translation>Befunde innerhalb dieses Abstands von einem Ort gehen in diesem auf. 0: nur, was auf ein und derselben Stelle liegt.</translation>
  </message>
  <message>
   <source>Fit tangents and arcs</source>
   <translation>Geraden und Kreisbögen einpassen</translation>
  </message>
  <message>
   <source>Fix</source>
   <translation>Lösungsstatus</translation>
  </message>
  <message>
   <source>Flow lines</source>
   <translation>Rinnensohlen</translation>
  </message>
  <message>
   <source>Folder for the results</source>
   <translation>Ordner für die Ergebnisse</translation>
  </message>
  <message>
   <source>Folder of results</source>
   <translation>Ergebnisordner</translation>
  </message>
  <message>
   <source>Folder or file pattern</source>
   <translation>Ordner oder Dateimuster</translation>
  </message>
  <message>
   <source>For edges that were walked with the carriageway on the left: turns the cross-section over, of all edges.</source>
   <translation>Für Kanten, die mit der Fahrbahn zur Linken begangen wurden: dreht das Querprofil aller Kanten um.</translation>
  </message>
  <message>
   <source>For unattended runs: where a layer cannot be opened or fails, or a stage fails, the run ends with an error (exit code not 0) after the results of all others have been written.</source>
   <translation>Für unbeaufsichtigte Läufe: Wo sich ein Layer nicht öffnen lässt oder fehlschlägt oder ein Schritt fehlschlägt, endet der Lauf mit einem Fehler (Rückgabewert ungleich 0), nachdem die Ergebnisse aller anderen geschrieben wurden.</translation>
  </message>
  <message>
   <source>GST without a GGA of the same time: {}.</source>
   <translation>GST ohne GGA derselben Zeit: {}.</translation>
  </message>
  <message>
   <source>Gaps</source>
   <translation>Lücken</translation>
  </message>
  <message>
   <source>Gaps of “Reconstruct edges”.</source>
   <translation>Lücken aus „Kanten rekonstruieren“.</translation>
  </message>
  <message>
   <source>Gaps that took less time are nothing to go back for, however long they are. 0: the length decides alone.</source>
   <translation>Lücken von kürzerer Dauer lohnen keine Nachbegehung, wie lang sie auch sind. 0: allein die Länge entscheidet.</translation>
  </message>
  <message>
   <source>GeoPackage</source>
   <translation>GeoPackage</translation>
  </message>
  <message>
   <source>Give both “{}” and “{}”, or neither.</source>
   <translation>Sowohl „{}“ als auch „{}“ angeben oder keines von beiden.</translation>
  </message>
  <message>
   <source>Give “{}” or “{}”: there is no capture to process.</source>
   <translation>„{}“ oder „{}“ angeben: Es gibt keine Aufnahme zu verarbeiten.</translation>
  </message>
  <message>
   <source>HTML files (*.html)</source>
   <translation>HTML-Dateien (*.html)</translation>
  </message>
  <message>
   <source>Half of all heights are over {:g} m, which no curb is: the Z values of “{}” and “{}” may be in another unit than metres, or above different surfaces.</source>
   <translation>Die Hälfte aller Höhen ist größer als {:g} m, was kein Bord ist: Die Z-Werte von „{}“ und „{}“ sind vielleicht nicht in Metern oder über verschiedenen Flächen.</translation>
  </message>
  <message>
   <source>Height in Z</source>
   <translation>Höhe in Z</translation>
  </message>
  <message>
   <source>Height: mean {:.3f} m, from {:.3f} to {:.3f} m, median 1-sigma {:.3f} m; median distance in plan {:+.3f} m.</source>
   <translation>Höhe: Mittel {:.3f} m, von {:.3f} bis {:.3f} m, 1 Sigma im Median {:.3f} m; Abstand im Grundriss im Median {:+.3f} m.</translation>
  </message>
  <message>
   <source>Held back</source>
   <translation>Zurückgestellt</translation>
  </message>
  <message>
   <source>Higher stations are flagged “high”.</source>
   <translation>Höhere Stationen werden als „high“ gekennzeichnet.</translation>
  </message>
  <message>
   <source>Horizontal accuracy</source>
   <translation>Lagegenauigkeit</translation>
  </message>
  <message>
   <source>Horizontal accuracy of the check points (m)</source>
   <translation>Lagegenauigkeit der Prüfpunkte (m)</translation>
  </message>
  <message>
   <source>Horizontal accuracy that the receiver reported, 1-sigma in metres. Left empty, it is found by name; without one, epochs are not screened by accuracy.</source>
   <translation>Vom Empfänger gemeldete Lagegenauigkeit, als Standardabweichung (1 Sigma) in Metern. Leer gelassen, wird das Feld am Namen erkannt; ohne ein solches werden die Epochen nicht nach Genauigkeit geprüft.</translation>
  </message>
  <message>
   <source>How far an outside corner may lie from that of the edge, as a multiple of the offset; sharper ones are rounded. 1: all are rounded.</source>
   <translation>Wie weit eine Außenecke von der der Kante entfernt liegen darf, als Vielfaches des Querabstands; spitzere werden ausgerundet. 1: alle werden ausgerundet.</translation>
  </message>
  <message>
   <source>How far apart two walks of one edge may lie to be looked at together. Repeat walks fall within a few centimetres of each other; less than the distance to the next curb.</source>
   <translation>Wie weit zwei Begehungen einer Kante auseinanderliegen dürfen, um gemeinsam betrachtet zu werden. Wiederholte Begehungen liegen wenige Zentimeter auseinander; der Wert muss kleiner sein als der Abstand zum nächsten Bordstein.</translation>
  </message>
  <message>
   <source>How far the edges' chords may lie off the curves that they stand for; arcs that become wider get as many vertices as it takes to keep it.</source>
   <translation>Wie weit die Sehnen der Kanten von den Bögen abliegen dürfen, für die sie stehen; weiter werdende Kreisbögen erhalten so viele Stützpunkte, dass dies eingehalten wird.</translation>
  </message>
  <message>
   <source>How far the ends of untouched neighbours may go along with a moved line.</source>
   <translation>Wie weit die Enden unberührter Nachbarn einer verlegten Linie folgen dürfen.</translation>
  </message>
  <message>
   <source>How well the existing lines were digitised, across their direction, 1-sigma in metres, without a shift of the whole layer.</source>
   <translation>Wie gut die Bestandslinien digitalisiert wurden, quer zu ihrer Richtung, als Standardabweichung (1 Sigma) in Metern, ohne den Gesamtversatz des Layers.</translation>
  </message>
  <message>
   <source>How well they were digitised, across their direction, 1-sigma in metres.</source>
   <translation>Wie gut sie digitalisiert wurden, quer zu ihrer Richtung, als Standardabweichung (1 Sigma) in Metern.</translation>
  </message>
  <message>
   <source>Id of the existing lines</source>
   <translation>Kennung der Bestandslinien</translation>
  </message>
  <message>
   <source>Identifier of the check points</source>
   <translation>Kennung der Prüfpunkte</translation>
  </message>
  <message>
   <source>Identifier of the tested points or lines</source>
   <translation>Kennung der geprüften Objekte</translation>
  </message>
  <message>
   <source>Identifiers</source>
   <translation>Kennungen</translation>
  </message>
  <message>
   <source>If the logger strips checksums, tick “{}”.</source>
   <translation>Falls das Aufzeichnungsgerät die Prüfsummen entfernt, „{}“ ankreuzen.</translation>
  </message>
  <message>
   <source>Islands</source>
   <translation>Inseln</translation>
  </message>
  <message>
   <source>It was left in.</source>
   <translation>Er wurde belassen.</translation>
  </message>
  <message>
   <source>It was taken out.</source>
   <translation>Er wurde herausgerechnet.</translation>
  </message>
  <message>
   <source>Join ends nearer than (m)</source>
   <translation>Enden verbinden, die näher liegen als (m)</translation>
  </message>
  <message>
   <source>Joined edges</source>
   <translation>Verbundene Kanten</translation>
  </message>
  <message>
   <source>Keep and mark</source>
   <translation>Behalten und kennzeichnen</translation>
  </message>
  <message>
   <source>Kept epochs</source>
   <translation>Behaltene Epochen</translation>
  </message>
  <message>
   <source>Kept: {}. Rejected: {}.</source>
   <translation>Behalten: {}. Verworfen: {}.</translation>
  </message>
  <message>
   <source>Layer {} of {}: “{}”</source>
   <translation>Layer {} von {}: „{}“</translation>
  </message>
  <message>
   <source>Layer “{}” (“{}”) holds no line: every edge counts as new.</source>
   <translation>Layer „{}“ („{}“) enthält keine Linie: Jede Kante gilt als neu.</translation>
  </message>
  <message>
   <source>Layer “{}” changed while it was read. Lines expected: {}, found: {}. Run again when nobody edits it.</source>
   <translation>Layer „{}“ hat sich während des Lesens geändert. Erwartete Linien: {}, gefundene: {}. Erneut ausführen, wenn niemand ihn bearbeitet.</translation>
  </message>
  <message>
   <source>Layer “{}” changed while it was read. Run again.</source>
   <translation>Layer „{}“ hat sich während des Lesens geändert. Erneut ausführen.</translation>
  </message>
  <message>
   <source>Layer “{}” failed: {}</source>
   <translation>Layer „{}“ ist fehlgeschlagen: {}</translation>
  </message>
  <message>
   <source>Layer “{}” gives no edge: the usable epochs ({}) make no stretch of at least the minimum length. Lower “{}”, or check that the layer holds a whole walk.</source>
   <translation>Layer „{}“ ergibt keine Kante: Die verwendbaren Epochen ({}) bilden keinen Abschnitt von mindestens der Mindestlänge. „{}“ verringern oder prüfen, ob der Layer eine ganze Begehung enthält.</translation>
  </message>
  <message>
   <source>Layer “{}” gives no point: nobody stood still for {} epochs within {:.4g} m. Raise “{}”, lower “{}” or “{}”; for walked edges use “Reconstruct edges”.</source>
   <translation>Layer „{}“ ergibt keinen Punkt: Nirgends gibt es einen Stillstand von {} Epochen innerhalb von {:.4g} m. „{}“ erhöhen, „{}“ oder „{}“ verringern; für begangene Kanten „Kanten rekonstruieren“ verwenden.</translation>
  </message>
  <message>
   <source>Layer “{}” has no part in the control: {}</source>
   <translation>Layer „{}“ nimmt an der Festpunktkontrolle nicht teil: {}</translation>
  </message>
  <message>
   <source>Layer “{}” holds no line with a length, so there is nothing to update “{}” by. Choose another layer in “{}”; if a filter or “selected features only” is set, check it.</source>
   <translation>Layer „{}“ enthält keine Linie mit einer Länge, also nichts, womit „{}“ fortgeführt werden kann. In „{}“ einen anderen Layer wählen; ist ein Filter oder „Nur gewählte Objekte“ gesetzt, diesen prüfen.</translation>
  </message>
  <message>
   <source>Layer “{}” holds no lines with heights ({}), but the height of a curb is measured between two of them. Choose a layer of LineStringZ in “{}”.</source>
   <translation>Layer „{}“ enthält keine Linien mit Höhen ({}), die Höhe eines Bordsteins wird aber zwischen zwei solchen gemessen. Einen Layer vom Typ LineStringZ in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Layer “{}”: all {} epochs were rejected, {} of them as “{}”. {}</source>
   <translation>Layer „{}“: Alle {} Epochen wurden verworfen, {} davon als „{}“. {}</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}” holds values up to {:.4g}, which cannot be the uncertainty of heights in metres: “{}” is taken instead.</source>
   <translation>Layer „{}“: Feld „{}“ enthält Werte bis {:.4g}, was keine Unsicherheit von Höhen in Metern sein kann: Stattdessen wird „{}“ verwendet.</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}” must say yes or no, left or right for “{}”, but holds “{}” (rows: {}). Choose another field, correct the values, or leave it empty.</source>
   <translation>Layer „{}“: Feld „{}“ muss für „{}“ ja oder nein, links oder rechts angeben, enthält aber „{}“ (Zeilen: {}). Ein anderes Feld wählen, die Werte berichtigen oder die Angabe leer lassen.</translation>
  </message>
  <message>
   <source>Layer “{}”: {} of {} epochs were rejected, {} of them as “{}”. {}</source>
   <translation>Layer „{}“: {} von {} Epochen wurden verworfen, {} davon als „{}“. {}</translation>
  </message>
  <message>
   <source>Layers of streamed epochs: points, or lines, with M as the time of each vertex or in the order of their vertices; in any CRS each, rows in any order.</source>
   <translation>Layer mit Epochen eines Datenstroms: Punkte oder Linien, mit M als Zeit jedes Stützpunkts oder in der Reihenfolge ihrer Stützpunkte; jeder in beliebigem KBS, Zeilen in beliebiger Reihenfolge.</translation>
  </message>
  <message>
   <source>Layers processed</source>
   <translation>Verarbeitete Layer</translation>
  </message>
  <message>
   <source>Layers processed: {}, failed: {}. Edges: {}, {:.2f} m on the ground. Results: {}.</source>
   <translation>Verarbeitete Layer: {}, fehlgeschlagen: {}. Kanten: {}, {:.2f} m Länge in der Örtlichkeit. Ergebnisse: {}.</translation>
  </message>
  <message>
   <source>Layers that failed</source>
   <translation>Fehlgeschlagene Layer</translation>
  </message>
  <message>
   <source>Leave out</source>
   <translation>Weglassen</translation>
  </message>
  <message>
   <source>Left empty, it is the project's CRS where that is projected, else that of the first layer. Positions are transformed as the project says; heights stay on their datum.</source>
   <translation>Leer gelassen, ist es das KBS des Projekts, falls dieses projiziert ist, sonst das des ersten Layers. Positionen werden nach den Einstellungen des Projekts transformiert; Höhen behalten ihr Höhenbezugssystem.</translation>
  </message>
  <message>
   <source>Left open</source>
   <translation>Offen gelassen</translation>
  </message>
  <message>
   <source>Length of transitions (m)</source>
   <translation>Länge der Übergänge (m)</translation>
  </message>
  <message>
   <source>Limits: an edge breaks at pauses over {} s and at steps over {} m.</source>
   <translation>Grenzwerte: Eine Kante endet bei Pausen über {} s und bei Schritten über {} m.</translation>
  </message>
  <message>
   <source>Lines farther apart than this are not the same thing.</source>
   <translation>Linien, die weiter auseinanderliegen, sind nicht dasselbe Objekt.</translation>
  </message>
  <message>
   <source>Lines farther apart than this are not the same thing. Take it greater than the moves expected, but not so great that the next line comes into reach.</source>
   <translation>Linien, die weiter auseinanderliegen, sind nicht dasselbe Objekt. Größer wählen als die erwarteten Verschiebungen, aber nicht so groß, dass die nächste Linie in Reichweite kommt.</translation>
  </message>
  <message>
   <source>Lines farther apart than this do not count. It must be greater than the shift.</source>
   <translation>Linien, die weiter auseinanderliegen, bleiben unberücksichtigt. Der Wert muss größer sein als der Versatz.</translation>
  </message>
  <message>
   <source>Lines that are gone</source>
   <translation>Weggefallene Linien</translation>
  </message>
  <message>
   <source>Lines to be moved</source>
   <translation>Zu verschiebende Linien</translation>
  </message>
  <message>
   <source>Lines to move them onto</source>
   <translation>Linien, auf die verschoben wird</translation>
  </message>
  <message>
   <source>Lines without times that look drawn, with vertices at corners and long steps between, stop the run with a question, since a map taken for epochs gives edges that look right and are not. Set this to take them all the same.</source>
   <translation>Linien ohne Zeiten, die gezeichnet aussehen, mit Stützpunkten an Ecken und langen Schritten dazwischen, halten den Lauf mit einer Rückfrage an, denn eine für Epochen gehaltene Karte ergibt Kanten, die richtig aussehen und es nicht sind. Hier ankreuzen, um sie trotzdem zu verwenden.</translation>
  </message>
  <message>
   <source>Lines: {}. Held back: {}.</source>
   <translation>Linien: {}. Zurückgestellt: {}.</translation>
  </message>
  <message>
   <source>Linework to compare the edges with, in any CRS. Left empty, nothing is compared.</source>
   <translation>Linien, mit denen die Kanten verglichen werden, in beliebigem KBS. Leer gelassen, wird nichts verglichen.</translation>
  </message>
  <message>
   <source>List places to revisit</source>
   <translation>Orte zur Nachbegehung auflisten</translation>
  </message>
  <message>
   <source>Loads the layers into the group “Curbwright” of the open project, or renews them there.</source>
   <translation>Lädt die Layer in die Gruppe „Curbwright“ des geöffneten Projekts oder erneuert sie dort.</translation>
  </message>
  <message>
   <source>Log “{}” has times and no date: no RMC and no ZDA sentence gives one. Give the UTC date of its first epoch in “{}”.</source>
   <translation>Protokoll „{}“ enthält Zeiten, aber kein Datum: Kein RMC- oder ZDA-Satz nennt eines. Das UTC-Datum seiner ersten Epoche in „{}“ angeben.</translation>
  </message>
  <message>
   <source>Log “{}” holds the same epochs as “{}”: edges made of both come twice. Give one of them alone.</source>
   <translation>Protokoll „{}“ enthält dieselben Epochen wie „{}“: Kanten aus beiden kommen doppelt. Nur eines davon angeben.</translation>
  </message>
  <message>
   <source>Log “{}”: dates (RMC, ZDA) that do not go on with the time of day, as of a receiver that has just been started: {}. They are taken as wrong: the epochs run from {} to {}.</source>
   <translation>Protokoll „{}“: Datumsangaben (RMC, ZDA), die nicht zum Fortgang der Uhrzeit passen, wie bei einem eben eingeschalteten Empfänger: {}. Sie gelten als falsch: Die Epochen reichen von {} bis {}.</translation>
  </message>
  <message>
   <source>Log “{}”: positions that stand in RMC alone: {}. They have neither height nor fix quality and are left out.</source>
   <translation>Protokoll „{}“: Positionen, die allein in RMC stehen: {}. Sie haben weder Höhe noch Lösungsqualität und werden weggelassen.</translation>
  </message>
  <message>
   <source>Log “{}”: sentences rejected: {} ({}), of them GGA: {}. An output for “{}” lists them.</source>
   <translation>Protokoll „{}“: verworfene Sätze: {} ({}), davon GGA: {}. Eine Ausgabe für „{}“ führt sie auf.</translation>
  </message>
  <message>
   <source>Log “{}”: the epochs run from {} to {}. Receivers whose count of weeks has rolled over give dates that are 1024 weeks early; that would be {}. Check the date.</source>
   <translation>Protokoll „{}“: Die Epochen reichen von {} bis {}. Empfänger, deren Wochenzähler übergelaufen ist, liefern um 1024 Wochen zu frühe Datumsangaben; dann wäre es {}. Das Datum prüfen.</translation>
  </message>
  <message>
   <source>Log “{}”: {} bytes, {} of them outside sentences. Used: {}. Others: {}.</source>
   <translation>Protokoll „{}“: {} Bytes, davon {} außerhalb von Sätzen. Verwendet: {}. Andere: {}.</translation>
  </message>
  <message>
   <source>Look at the reasons above and loosen the limits.</source>
   <translation>Die obigen Gründe ansehen und die Grenzwerte lockern.</translation>
  </message>
  <message>
   <source>Lower stations are flagged “low”.</source>
   <translation>Niedrigere Stationen werden als „low“ gekennzeichnet.</translation>
  </message>
  <message>
   <source>Mark them as retired, delete them, or keep them as they are.</source>
   <translation>Als „retired“ kennzeichnen, löschen oder belassen, wie sie sind.</translation>
  </message>
  <message>
   <source>Maximum difference in height (m)</source>
   <translation>Größter Höhenunterschied (m)</translation>
  </message>
  <message>
   <source>Maximum distance between the fitted curve and the line that is written. Smaller means more vertices.</source>
   <translation>Größter Abstand zwischen der eingepassten Kurve und der geschriebenen Linie. Kleiner bedeutet mehr Stützpunkte.</translation>
  </message>
  <message>
   <source>Maximum distance between the mean and the line that is written; twice as much in height. Smaller means more vertices.</source>
   <translation>Größter Abstand zwischen dem Mittel und der geschriebenen Linie; in der Höhe doppelt so viel. Kleiner bedeutet mehr Stützpunkte.</translation>
  </message>
  <message>
   <source>Maximum distance between top and flow line in plan. A typical face leans back by 12 to 25 mm (from memory, 1 in 6 to 1 in 12); leave room for the noise of both, but none for the curb across a narrow island.</source>
   <translation>Größter Abstand zwischen Oberkante und Rinnensohle im Grundriss. Eine übliche Ansichtsfläche hat einen Anlauf von 12 bis 25 mm (aus dem Gedächtnis, 1 : 6 bis 1 : 12); Spielraum für das Rauschen beider lassen, aber keinen für den Bordstein auf der anderen Seite einer schmalen Insel.</translation>
  </message>
  <message>
   <source>Maximum distance between two stations along a line. Each line has four at least.</source>
   <translation>Größter Abstand zweier Stationen entlang einer Linie. Jede Linie hat mindestens vier.</translation>
  </message>
  <message>
   <source>Maximum distance between two stations along a top. Each has four at least.</source>
   <translation>Größter Abstand zweier Stationen entlang einer Oberkante. Jede hat mindestens vier.</translation>
  </message>
  <message>
   <source>Maximum distance of the flow line (m)</source>
   <translation>Größter Abstand der Rinnensohle (m)</translation>
  </message>
  <message>
   <source>Maximum distance that ends follow (m)</source>
   <translation>Nachziehen der Enden höchstens (m)</translation>
  </message>
  <message>
   <source>Maximum extension to a corner (m)</source>
   <translation>Größte Verlängerung bis zu einer Ecke (m)</translation>
  </message>
  <message>
   <source>Maximum nominal height (m)</source>
   <translation>Größte Sollhöhe (m)</translation>
  </message>
  <message>
   <source>Maximum offset between two walks (m)</source>
   <translation>Größter Querabstand zweier Begehungen (m)</translation>
  </message>
  <message>
   <source>Maximum pause within a stop (seconds)</source>
   <translation>Längste Pause innerhalb eines Halts (Sekunden)</translation>
  </message>
  <message>
   <source>Maximum pause within an edge (seconds); 0: automatic</source>
   <translation>Längste Pause innerhalb einer Kante (Sekunden; 0: automatisch)</translation>
  </message>
  <message>
   <source>Maximum radius of an arc (m)</source>
   <translation>Größter Radius eines Kreisbogens (m)</translation>
  </message>
  <message>
   <source>Maximum reported horizontal accuracy (m)</source>
   <translation>Größte gemeldete Lagegenauigkeit (m)</translation>
  </message>
  <message>
   <source>Maximum step within an edge (m); 0: automatic</source>
   <translation>Größter Schritt innerhalb einer Kante (m); 0: automatisch</translation>
  </message>
  <message>
   <source>Maximum uncertainty across (m)</source>
   <translation>Größte Unsicherheit quer (m)</translation>
  </message>
  <message>
   <source>Maximum uncertainty of heights (m)</source>
   <translation>Größte Unsicherheit der Höhen (m)</translation>
  </message>
  <message>
   <source>Mean height (m)</source>
   <translation>Mittlere Höhe (m)</translation>
  </message>
  <message>
   <source>Median uncertainty (1-sigma): {:.1f} mm across, {} up.</source>
   <translation>Median der Unsicherheit (1 Sigma): {:.1f} mm quer, in der Höhe {}.</translation>
  </message>
  <message>
   <source>Median uncertainty of the points (1-sigma): {:.1f} mm east, {:.1f} mm north, {} up.</source>
   <translation>Median der Unsicherheit der Punkte (1 Sigma): {:.1f} mm Ost, {:.1f} mm Nord, in der Höhe {}.</translation>
  </message>
  <message>
   <source>Merge repeat passes</source>
   <translation>Wiederholte Durchgänge zusammenführen</translation>
  </message>
  <message>
   <source>Merged edges</source>
   <translation>Zusammengeführte Kanten</translation>
  </message>
  <message>
   <source>Minimum deflection of a corner (degrees)</source>
   <translation>Kleinste Richtungsänderung einer Ecke (Grad)</translation>
  </message>
  <message>
   <source>Minimum distance of ends left open (m)</source>
   <translation>Kleinster Abstand offen gelassener Enden (m)</translation>
  </message>
  <message>
   <source>Minimum duration of a gap (seconds)</source>
   <translation>Mindestdauer einer Lücke (Sekunden)</translation>
  </message>
  <message>
   <source>Minimum duration of a stop on a walk (seconds)</source>
   <translation>Mindesthalt bei einer Begehung (Sekunden)</translation>
  </message>
  <message>
   <source>Minimum length of a gap (m)</source>
   <translation>Mindestlänge einer Lücke (m)</translation>
  </message>
  <message>
   <source>Minimum length of a rejected stretch (m)</source>
   <translation>Mindestlänge verworfener Epochen (m)</translation>
  </message>
  <message>
   <source>Minimum length of an edge (m)</source>
   <translation>Mindestlänge einer Kante (m)</translation>
  </message>
  <message>
   <source>Minimum length without an edge (m)</source>
   <translation>Mindestlänge ohne Kante (m)</translation>
  </message>
  <message>
   <source>Minimum nominal height (m)</source>
   <translation>Kleinste Sollhöhe (m)</translation>
  </message>
  <message>
   <source>Minimum number of epochs</source>
   <translation>Mindestanzahl der Epochen</translation>
  </message>
  <message>
   <source>Minimum overlap (m)</source>
   <translation>Mindestüberlappung (m)</translation>
  </message>
  <message>
   <source>Minimum radius of an arc (m)</source>
   <translation>Kleinster Radius eines Kreisbogens (m)</translation>
  </message>
  <message>
   <source>Mitre limit (offsets)</source>
   <translation>Gehrungsgrenze (Querabstände)</translation>
  </message>
  <message>
   <source>Model</source>
   <translation>Modell</translation>
  </message>
  <message>
   <source>More</source>
   <translation>Mehr</translation>
  </message>
  <message>
   <source>More than chance</source>
   <translation>Mehr als Zufall</translation>
  </message>
  <message>
   <source>Most heights are negative: “{}” and “{}” may have been taken for each other.</source>
   <translation>Die meisten Höhen sind negativ: „{}“ und „{}“ wurden vielleicht verwechselt.</translation>
  </message>
  <message>
   <source>Moved lines</source>
   <translation>Um den Versatz verschobene Linien</translation>
  </message>
  <message>
   <source>Moves of ends: median {:.3f} m, maximum {:.3f} m.</source>
   <translation>Verschiebungen der Enden: {:.3f} m im Median, höchstens {:.3f} m.</translation>
  </message>
  <message>
   <source>NMEA logs</source>
   <translation>NMEA-Protokolle</translation>
  </message>
  <message>
   <source>Name of the field in all layers{}. {}</source>
   <translation>Name des Feldes in allen Layern{}. {}</translation>
  </message>
  <message>
   <source>No check point of “{}” can be compared with “{}”. Check the CRS of both layers, or give a greater “{}”.</source>
   <translation>Kein Prüfpunkt aus „{}“ lässt sich mit „{}“ vergleichen. Das KBS beider Layer prüfen oder „{}“ größer angeben.</translation>
  </message>
  <message>
   <source>No check point of “{}” has an identifier that a feature of “{}” has too (fields of “{}” and “{}”). Choose other fields, or leave both empty.</source>
   <translation>Kein Prüfpunkt aus „{}“ hat eine Kennung, die auch ein Objekt aus „{}“ hat (Felder aus „{}“ und „{}“). Andere Felder wählen oder beide leer lassen.</translation>
  </message>
  <message>
   <source>No edge has a height: edges that lie one above the other, as the top and the foot of a curb, cannot be told apart. If there are any, choose the field that says which is which in “{}”.</source>
   <translation>Keine Kante hat eine Höhe: Übereinanderliegende Kanten, wie Oberkante und Fuß eines Bordsteins, lassen sich nicht unterscheiden. Falls es welche gibt, das Feld, das sie unterscheidet, in „{}“ wählen.</translation>
  </message>
  <message>
   <source>No epoch has a height: the Z values of the edges are NaN.</source>
   <translation>Keine Epoche hat eine Höhe: Die Z-Werte der Kanten sind NaN.</translation>
  </message>
  <message>
   <source>No epoch has a height: the Z values of the points are NaN.</source>
   <translation>Keine Epoche hat eine Höhe: Die Z-Werte der Punkte sind NaN.</translation>
  </message>
  <message>
   <source>No layer is given. Choose one at least, for example in “{}”.</source>
   <translation>Kein Layer ist angegeben. Mindestens einen wählen, zum Beispiel in „{}“.</translation>
  </message>
  <message>
   <source>No layer was processed. Failed: {}. {}</source>
   <translation>Kein Layer wurde verarbeitet. Fehlgeschlagen: {}. {}</translation>
  </message>
  <message>
   <source>No line of “{}” runs along one of “{}” within {:.4g} m. If they should, check the CRS of both layers, and raise “{}” where the shift is greater.</source>
   <translation>Keine Linie aus „{}“ verläuft entlang einer aus „{}“ innerhalb von {:.4g} m. Falls sie es sollten, das KBS beider Layer prüfen und „{}“ erhöhen, wo der Versatz größer ist.</translation>
  </message>
  <message>
   <source>No line of “{}” runs along one of “{}” within {:.4g} m. If they should, check the CRS of both layers, or raise “{}”.</source>
   <translation>Keine Linie aus „{}“ verläuft entlang einer aus „{}“ innerhalb von {:.4g} m. Falls sie es sollten, das KBS beider Layer prüfen oder „{}“ erhöhen.</translation>
  </message>
  <message>
   <source>No station has heights of both lines: check the Z values of “{}” and “{}”.</source>
   <translation>Keine Station hat Höhen beider Linien: die Z-Werte von „{}“ und „{}“ prüfen.</translation>
  </message>
  <message>
   <source>No two edges of “{}” are walks of one edge within {:.4g} m. If they should be, raise “{}”, lower “{}”, and look at “{}”.</source>
   <translation>Keine zwei Kanten aus „{}“ sind Begehungen einer Kante innerhalb von {:.4g} m. Falls sie es sein sollten, „{}“ erhöhen, „{}“ verringern und „{}“ ansehen.</translation>
  </message>
  <message>
   <source>No warnings.</source>
   <translation>Keine Warnungen.</translation>
  </message>
  <message>
   <source>None of the layers can be opened: {}. Check paths and layer names in “{}”.</source>
   <translation>Keiner der Layer lässt sich öffnen: {}. Pfade und Layernamen in „{}“ prüfen.</translation>
  </message>
  <message>
   <source>Not everything was done ({} failed). The results of the others are in “{}”. {}</source>
   <translation>Nicht alles wurde erledigt ({} fehlgeschlagen). Die Ergebnisse der übrigen stehen in „{}“. {}</translation>
  </message>
  <message>
   <source>Nothing has changed: the fit of the last run was taken over.</source>
   <translation>Nichts hat sich geändert: Die Einpassung des letzten Laufs wurde übernommen.</translation>
  </message>
  <message>
   <source>Nothing in “{}” can be epochs. {}</source>
   <translation>„{}“ enthält nichts, was Epochen sein könnten. {}</translation>
  </message>
  <message>
   <source>Nothing passes the limits, so there is no place to revisit. If that is too good to be true, look at what was left out (above), and lower the limits.</source>
   <translation>Nichts überschreitet die Grenzwerte, es gibt also keinen Ort zur Nachbegehung. Wenn das zu schön ist, um wahr zu sein, das oben Weggelassene ansehen und die Grenzwerte verringern.</translation>
  </message>
  <message>
   <source>Number of alignments</source>
   <translation>Anzahl der Trassierungen</translation>
  </message>
  <message>
   <source>Number of edges</source>
   <translation>Anzahl der Kanten</translation>
  </message>
  <message>
   <source>Number of joined edges</source>
   <translation>Anzahl der verbundenen Kanten</translation>
  </message>
  <message>
   <source>Number of parallels</source>
   <translation>Anzahl der Parallelen</translation>
  </message>
  <message>
   <source>Number of places</source>
   <translation>Anzahl der Orte</translation>
  </message>
  <message>
   <source>Number of points</source>
   <translation>Anzahl der Punkte</translation>
  </message>
  <message>
   <source>Of every edge along the line, 1-sigma, across.</source>
   <translation>Jeder Kante an der Linie, 1 Sigma, quer.</translation>
  </message>
  <message>
   <source>Of existing lines. “displaced” puts a place at each line that lies elsewhere, to see whether it was moved.</source>
   <translation>Von Bestandslinien. „displaced“ setzt einen Ort an jede Linie, die anderswo liegt, um nachzusehen, ob sie verlegt wurde.</translation>
  </message>
  <message>
   <source>Of gaps and of ends that broke off. Where another capture begins, or the walk turned back, usually nothing is missing. Gaps without a reason count.</source>
   <translation>Von Lücken und von abgebrochenen Enden. Wo eine andere Aufnahme beginnt oder die Begehung umkehrte, fehlt meist nichts. Lücken ohne Grund zählen.</translation>
  </message>
  <message>
   <source>Of kept epochs only. Left empty, it is edge_id. Where layers were merged and edge_id repeats, choose the other field or fields as well.</source>
   <translation>Nur für behaltene Epochen. Leer gelassen, ist es edge_id. Wo Layer zusammengeführt wurden und edge_id mehrfach vorkommt, auch das andere Feld oder die anderen Felder wählen.</translation>
  </message>
  <message>
   <source>Of the comparison with existing lines. {}</source>
   <translation>Für den Vergleich mit Bestandslinien. {}</translation>
  </message>
  <message>
   <source>Of the tests whether an offset, or the shift, is more than uncertainty.</source>
   <translation>Für die Tests, ob ein Querabstand oder der Versatz mehr ist als Unsicherheit.</translation>
  </message>
  <message>
   <source>Of the tests whether walks differ by more than uncertainty. Of all stretches called different, no more than 1 − confidence are so by chance (false discovery rate, Benjamini and Hochberg 1995).</source>
   <translation>Für die Tests, ob sich Begehungen um mehr als die Unsicherheit unterscheiden. Von allen als verschieden bezeichneten Abschnitten sind es höchstens 1 − Vertrauensniveau nur durch Zufall (Falscherkennungsrate, Benjamini und Hochberg 1995).</translation>
  </message>
  <message>
   <source>Offsets at {} stations{}: mean {:+.3f} m, RMSE {:.3f} m, 95 % within {:.3f} m, maximum {:.3f} m; area between the lines {:.3f} m² per metre.</source>
   <translation>Querabstände an {} Stationen{}: Mittel {:+.3f} m, RMSE {:.3f} m, 95 % innerhalb von {:.3f} m, Maximum {:.3f} m; Fläche zwischen den Linien {:.3f} m² je Meter.</translation>
  </message>
  <message>
   <source>One or more files, of any name. The name of the file becomes the capture, with its folder where two files have the same name.</source>
   <translation>Eine oder mehrere Dateien mit beliebigen Namen. Der Name der Datei wird zur Aufnahme, bei zwei gleichnamigen Dateien zusammen mit ihrem Ordner.</translation>
  </message>
  <message>
   <source>One point for each GGA sentence, in the order of the files; without geometry where the receiver gave no position.</source>
   <translation>Ein Punkt für jeden GGA-Satz, in der Reihenfolge der Dateien; ohne Geometrie, wo der Empfänger keine Position lieferte.</translation>
  </message>
  <message>
   <source>One point with height for each stop, in the layer's CRS.</source>
   <translation>Ein Punkt mit Höhe für jeden Halt, im KBS des Layers.</translation>
  </message>
  <message>
   <source>Only accepted changes</source>
   <translation>Nur, was eine Person angenommen hat</translation>
  </message>
  <message>
   <source>Only what is displaced, or every stretch that an edge runs along.</source>
   <translation>Nur, was verschoben ist, oder jeden Abschnitt, an dem eine Kante entlangläuft.</translation>
  </message>
  <message>
   <source>Outliers among the check points (field “outlier”): {} of {}. They are part of the statistics: look at each, and correct or explain it.</source>
   <translation>Prüfpunkte, die von den anderen abweichen (Feld „outlier“): {} von {}. Sie gehen in die Statistik ein: jeden ansehen und berichtigen oder erklären.</translation>
  </message>
  <message>
   <source>Outside the range: {} low, {} high, {} of them by more than 1.96 sigma.</source>
   <translation>Außerhalb des Bereichs: {} zu niedrig, {} zu hoch, davon {} um mehr als 1,96 Sigma.</translation>
  </message>
  <message>
   <source>Over this length a walk gains its weight where it begins inside the edge, and loses it where it ends.</source>
   <translation>Über diese Länge gewinnt eine Begehung ihr Gewicht, wo sie innerhalb der Kante beginnt, und verliert es, wo sie endet.</translation>
  </message>
  <message>
   <source>PDF files (*.pdf)</source>
   <translation>PDF-Dateien (*.pdf)</translation>
  </message>
  <message>
   <source>Parallel edges</source>
   <translation>Parallele Kanten</translation>
  </message>
  <message>
   <source>Parallels that fell apart into pieces: {}.</source>
   <translation>In Stücke zerfallene Parallelen: {}.</translation>
  </message>
  <message>
   <source>Parallels that vanished</source>
   <translation>Verschwundene Parallelen</translation>
  </message>
  <message>
   <source>Parallels that vanished, as their edges are narrower than the offset: {} ({}{}).</source>
   <translation>Parallelen, die verschwanden, da ihre Kanten enger sind als der Querabstand: {} ({}{}).</translation>
  </message>
  <message>
   <source>Parallels: {0} (edges of “{2}”: {1}), {3:.2f} m on the ground. Cleaned, as they ran into themselves: {4}.</source>
   <translation>Parallelen: {0} (Kanten aus „{2}“: {1}), {3:.2f} m Länge in der Örtlichkeit. Bereinigt, da sie in sich selbst hineinliefen: {4}.</translation>
  </message>
  <message>
   <source>Passes</source>
   <translation>Durchgänge</translation>
  </message>
  <message>
   <source>Places to revisit</source>
   <translation>Orte zur Nachbegehung</translation>
  </message>
  <message>
   <source>Places to revisit: {}, findings: {}, {:.0f} m straight from one to the next.</source>
   <translation>Orte zur Nachbegehung: {}, Befunde: {}, {:.0f} m Luftlinie von einem zum nächsten.</translation>
  </message>
  <message>
   <source>Points along the edges with chainage, height, longitudinal slope and 1-sigma uncertainty across and up.</source>
   <translation>Punkte entlang der Kanten mit Stationierung, Höhe, Längsneigung und Unsicherheit (1 Sigma) quer und in der Höhe.</translation>
  </message>
  <message>
   <source>Points along the existing lines with signed offset and height difference.</source>
   <translation>Punkte entlang der Bestandslinien mit vorzeichenbehaftetem Querabstand und Höhenunterschied.</translation>
  </message>
  <message>
   <source>Points along the tops with height, distance, uncertainty and flag.</source>
   <translation>Punkte entlang der Oberkanten mit Höhe, Abstand, Unsicherheit und Kennzeichnung.</translation>
  </message>
  <message>
   <source>Points in walking order where something is missing or doubtful, from all that was found, with the default limits of “List places to revisit”.</source>
   <translation>Punkte in der Reihenfolge des Weges, wo etwas fehlt oder zweifelhaft ist, aus allen Befunden, mit den voreingestellten Grenzwerten von „Orte zur Nachbegehung auflisten“.</translation>
  </message>
  <message>
   <source>Points in walking order, in the CRS of the first layer given. A file that ends in .gpx gets waypoints.</source>
   <translation>Punkte in der Reihenfolge des Weges, im KBS des ersten angegebenen Layers. Eine Datei mit der Endung .gpx erhält Wegpunkte.</translation>
  </message>
  <message>
   <source>Points of higher accuracy from an independent survey, in any CRS. For lines they must lie on the edge that the line shows.</source>
   <translation>Punkte höherer Genauigkeit aus einer unabhängigen Vermessung, in beliebigem KBS. Für Linien müssen sie auf der Kante liegen, die die Linie darstellt.</translation>
  </message>
  <message>
   <source>Points that spread by more than {1:.0f} times the typical noise: {0} (such as point {2}). Look at their epochs.</source>
   <translation>Punkte, die um mehr als das {1:.0f}-Fache des typischen Rauschens streuen: {0} (etwa Punkt {2}). Ihre Epochen ansehen.</translation>
  </message>
  <message>
   <source>Points with known coordinates, in any CRS, heights in Z. Where somebody stood still on one of them, each capture day (UTC) is checked by it: a wrong base or antenna height moves all of a day. A day that is off is named first. Left empty, nothing is checked.</source>
   <translation>Punkte mit bekannten Koordinaten, in beliebigem KBS, Höhen in Z. Wo jemand auf einem von ihnen stillstand, wird jeder Aufnahmetag (UTC) daran kontrolliert: Eine falsche Basis oder Antennenhöhe verschiebt einen ganzen Tag. Ein abweichender Tag wird zuerst genannt. Leer gelassen, wird nichts kontrolliert.</translation>
  </message>
  <message>
   <source>Points: {}, of {} to {} epochs. One epoch spreads by {} in each direction and {} in height (1-sigma).</source>
   <translation>Punkte: {}, aus {} bis {} Epochen. Streuung einer Epoche: {} je Richtung und {} in der Höhe (1 Sigma).</translation>
  </message>
  <message>
   <source>Polygons, in any CRS, within which somebody looked for everything. Existing stretches outside are “not_visited”, never “only_existing”. Left empty, the area is what lies within “{}”.</source>
   <translation>Polygone, in beliebigem KBS, in denen vollständig nach Kanten gesucht wurde. Bestandsabschnitte außerhalb sind „not_visited“, nie „only_existing“. Leer gelassen, ist das Gebiet alles innerhalb von „{}“.</translation>
  </message>
  <message>
   <source>Print the HTML file from a browser instead.</source>
   <translation>Stattdessen die HTML-Datei aus einem Browser drucken.</translation>
  </message>
  <message>
   <source>Project in the report</source>
   <translation>Projekt im Bericht</translation>
  </message>
  <message>
   <source>Projected CRS in metres to compute in. Left empty, a frame of the layer's own is used that is true to scale where the data lies, on the layer's own datum. Lengths are lengths on the ground either way, and results come back in the layer's CRS.</source>
   <translation>Projiziertes KBS in Metern, in dem gerechnet wird. Leer gelassen, wird ein eigenes, am Ort der Daten längentreues Koordinatensystem auf dem geodätischen Datum des Layers verwendet. Längen sind in beiden Fällen Längen in der Örtlichkeit, und die Ergebnisse werden im KBS des Layers geliefert.</translation>
  </message>
  <message>
   <source>Puts the changes into the layer's edit buffer as well, as one step that can be undone. A layer of the open project stays in edit mode until you save; any other is saved at once, or left as it was: a cancel takes back what was saved so far.</source>
   <translation>Überträgt die Änderungen auch in den Bearbeitungspuffer des Layers, als einen Schritt, der sich rückgängig machen lässt. Ein Layer des geöffneten Projekts bleibt bis zum Speichern im Bearbeitungsmodus; jeder andere wird sofort gespeichert oder bleibt unverändert: Ein Abbruch nimmt zurück, was bis dahin gespeichert ist.</translation>
  </message>
  <message>
   <source>RMS between two walks {}: {:.1f} mm; their uncertainties predict {:.1f} mm.</source>
   <translation>RMS zwischen zwei Begehungen {}: {:.1f} mm; nach ihren Unsicherheiten sind {:.1f} mm zu erwarten.</translation>
  </message>
  <message>
   <source>RMS between two walks, across (m)</source>
   <translation>RMS zwischen zwei Begehungen, quer (m)</translation>
  </message>
  <message>
   <source>RMS between two walks, up (m)</source>
   <translation>RMS zwischen zwei Begehungen, in der Höhe (m)</translation>
  </message>
  <message>
   <source>RMSE of the heights of the check points' own survey, 1-sigma. 0: not stated.</source>
   <translation>RMSE der Höhen aus der Vermessung der Prüfpunkte selbst, 1 Sigma. 0: nicht angegeben.</translation>
  </message>
  <message>
   <source>RMSE with the shift {:.3f} m, without it {:.3f} m; typical offset {:.3f} and {:.3f} m.</source>
   <translation>RMSE mit dem Versatz {:.3f} m, ohne ihn {:.3f} m; typischer Querabstand {:.3f} und {:.3f} m.</translation>
  </message>
  <message>
   <source>RTK fixed: {}.</source>
   <translation>RTK fixiert: {}.</translation>
  </message>
  <message>
   <source>Radial RMSE of the check points' own survey (for the same 1-sigma in east and north: 1.414 times that). It is added in quadrature. 0: not stated.</source>
   <translation>Radialer RMSE aus der Vermessung der Prüfpunkte selbst (bei gleichem 1 Sigma in Ost und Nord das 1,414-Fache davon). Er wird quadratisch addiert. 0: nicht angegeben.</translation>
  </message>
  <message>
   <source>Radii from {:.2f} to {:.2f} m, median 1-sigma {:.3f} m.</source>
   <translation>Radien von {:.2f} bis {:.2f} m, 1 Sigma im Median {:.3f} m.</translation>
  </message>
  <message>
   <source>Radius of a stop (m)</source>
   <translation>Radius eines Halts (m)</translation>
  </message>
  <message>
   <source>Reach of the survey (m)</source>
   <translation>Reichweite der Vermessung (m)</translation>
  </message>
  <message>
   <source>Reasons to revisit</source>
   <translation>Gründe für die Nachbegehung</translation>
  </message>
  <message>
   <source>Rejected epochs</source>
   <translation>Verworfene Epochen</translation>
  </message>
  <message>
   <source>Rejected epochs in a row</source>
   <translation>Aufeinanderfolgende verworfene Epochen</translation>
  </message>
  <message>
   <source>Rejected epochs of “Reconstruct edges” or “Screen epochs”, with the time field of the source.</source>
   <translation>Verworfene Epochen aus „Kanten rekonstruieren“ oder „Epochen filtern“, mit dem Zeitfeld der Quelle.</translation>
  </message>
  <message>
   <source>Rejected epochs: time from “{}”, capture from {}.</source>
   <translation>Verworfene Epochen: Zeit aus „{}“, Aufnahme: {}.</translation>
  </message>
  <message>
   <source>Rejected sentences</source>
   <translation>Verworfene Sätze</translation>
  </message>
  <message>
   <source>Remove the shift</source>
   <translation>Versatz herausrechnen</translation>
  </message>
  <message>
   <source>Repair “{}” of capture “{}” at {} was not carried out: {}.</source>
   <translation>Reparatur „{}“ der Aufnahme „{}“ bei {} wurde nicht ausgeführt: {}.</translation>
  </message>
  <message>
   <source>Repairs</source>
   <translation>Reparaturen</translation>
  </message>
  <message>
   <source>Repairs for other layers, passed over: {}.</source>
   <translation>Reparaturen für andere Layer, übergangen: {}.</translation>
  </message>
  <message>
   <source>Repairs: {} applied, {} lost, {} without effect.</source>
   <translation>Reparaturen: {} angewendet, {} verloren, {} ohne Wirkung.</translation>
  </message>
  <message>
   <source>Repairs: {}.</source>
   <translation>Reparaturen: {}.</translation>
  </message>
  <message>
   <source>Repeat passes</source>
   <translation>Wiederholte Durchgänge</translation>
  </message>
  <message>
   <source>Replace</source>
   <translation>Ersetzen</translation>
  </message>
  <message>
   <source>Report</source>
   <translation>Bericht</translation>
  </message>
  <message>
   <source>Report as PDF</source>
   <translation>Bericht als PDF</translation>
  </message>
  <message>
   <source>Report printed. Pages: {}.</source>
   <translation>Bericht gedruckt. Seiten: {}.</translation>
  </message>
  <message>
   <source>Rings closed</source>
   <translation>Geschlossene Ringe</translation>
  </message>
  <message>
   <source>Rings that cross or touch themselves and make no island: {} (edges {}). Their lines are in “{}”.</source>
   <translation>Ringe, die sich selbst kreuzen oder berühren und keine Insel bilden: {} (Kanten {}). Ihre Linien stehen in „{}“.</translation>
  </message>
  <message>
   <source>Rotation {:+.6f} ± {:.6f} degrees, about {:.10g}, {:.10g} (CRS of “{}”).</source>
   <translation>Drehung {:+.6f} ± {:.6f} Grad, um den Punkt {:.10g}; {:.10g} (KBS von „{}“).</translation>
  </message>
  <message>
   <source>Run again with “{}”, and print that from a browser.</source>
   <translation>Mit „{}“ noch einmal ausführen und diese Datei aus einem Browser drucken.</translation>
  </message>
  <message>
   <source>Runs so far</source>
   <translation>Bisherige Läufe</translation>
  </message>
  <message>
   <source>Save its edits to keep them.</source>
   <translation>Die Bearbeitungen speichern, um sie zu erhalten.</translation>
  </message>
  <message>
   <source>Scale factor {:.8f} ± {:.8f}, about the same point.</source>
   <translation>Maßstabsfaktor {:.8f} ± {:.8f}, um denselben Punkt.</translation>
  </message>
  <message>
   <source>Search distance (m)</source>
   <translation>Suchabstand (m)</translation>
  </message>
  <message>
   <source>Search distance of control points (m)</source>
   <translation>Suchabstand der Festpunkte (m)</translation>
  </message>
  <message>
   <source>Sentences found</source>
   <translation>Gefundene Sätze</translation>
  </message>
  <message>
   <source>Sentences rejected</source>
   <translation>Verworfene Sätze</translation>
  </message>
  <message>
   <source>Shift: all lines run one way (azimuth {:.0f}°), so the component along them is undetermined. Across them, to the right of that direction, “{}” lies {:+.3f}{} m from “{}”: {}.</source>
   <translation>Versatz: Alle Linien verlaufen in einer Richtung (Azimut {:.0f}°), daher ist der Anteil längs von ihnen unbestimmt. Quer dazu, nach rechts von dieser Richtung, liegt „{}“ {:+.3f}{} m von „{}“: {}.</translation>
  </message>
  <message>
   <source>Shift: it cannot be determined: {}.</source>
   <translation>Versatz: keine Aussage möglich: {}.</translation>
  </message>
  <message>
   <source>Shift: “{}” lies {:+.3f} ± {:.3f} m east and {:+.3f} ± {:.3f} m north of “{}” ({} at {:.0f} % confidence, from {:.0f} m, lines: {}).</source>
   <translation>Versatz: „{}“ liegt {:+.3f} ± {:.3f} m östlich und {:+.3f} ± {:.3f} m nördlich von „{}“ ({} bei einem Vertrauensniveau von {:.0f} %, aus {:.0f} m, Linien: {}).</translation>
  </message>
  <message>
   <source>Shorter gaps are nothing to go back for.</source>
   <translation>Kürzere Lücken lohnen keine Nachbegehung.</translation>
  </message>
  <message>
   <source>Shorter overlaps are no repeated walk, unless they are most of a short edge: the end of one edge and the start of the next are left as they are.</source>
   <translation>Kürzere Überlappungen sind keine wiederholte Begehung, außer sie machen den größten Teil einer kurzen Kante aus: Das Ende einer Kante und der Anfang der nächsten bleiben, wie sie sind.</translation>
  </message>
  <message>
   <source>Shorter stretches make no edge; their epochs are rejected as “too_short”.</source>
   <translation>Kürzere Abschnitte bilden keine Kante; ihre Epochen werden als „too_short“ verworfen.</translation>
  </message>
  <message>
   <source>Show the results in the project</source>
   <translation>Ergebnisse im Projekt anzeigen</translation>
  </message>
  <message>
   <source>So many at least make a place. Epochs that repeat others, or walked back over what was captured, do not count.</source>
   <translation>Mindestens so viele bilden einen Ort. Epochen, die andere wiederholen oder über bereits Aufgenommenes zurückführten, zählen nicht.</translation>
  </message>
  <message>
   <source>Some epochs have no geoid separation, so no ellipsoidal height: their Z is empty. Choose “{}” in “{}” for the altitude as the receiver wrote it.</source>
   <translation>Einigen Epochen fehlt die Geoidundulation und damit die ellipsoidische Höhe: Ihr Z ist leer. „{}“ in „{}“ wählen, um die vom Empfänger geschriebene Höhe zu erhalten.</translation>
  </message>
  <message>
   <source>Some loggers strip the checksums. Then nothing tells a damaged sentence from a right one: look at the result twice. A checksum that is there must be right either way.</source>
   <translation>Manche Aufzeichnungsgeräte entfernen die Prüfsummen. Dann unterscheidet nichts einen beschädigten Satz von einem richtigen: das Ergebnis doppelt prüfen. Eine vorhandene Prüfsumme muss in jedem Fall stimmen.</translation>
  </message>
  <message>
   <source>Spline</source>
   <translation>Spline</translation>
  </message>
  <message>
   <source>Stage “{}”</source>
   <translation>Schritt „{}“</translation>
  </message>
  <message>
   <source>Stage “{}” failed: {}</source>
   <translation>Schritt „{}“ ist fehlgeschlagen: {}</translation>
  </message>
  <message>
   <source>Stands in the report's title block, such as a quarter or a street.</source>
   <translation>Steht im Schriftfeld des Berichts, etwa ein Stadtteil oder eine Straße.</translation>
  </message>
  <message>
   <source>Stands in the report's title block.</source>
   <translation>Steht im Schriftfeld des Berichts.</translation>
  </message>
  <message>
   <source>Start of the walk</source>
   <translation>Beginn der Begehung</translation>
  </message>
  <message>
   <source>State of the solution: NMEA quality codes, words, or a yes-no field. Left empty, it is found from names and values. Where there is none, all epochs are taken as fixed, with a warning.</source>
   <translation>Zustand der Lösung: NMEA-Qualitätskennzahlen, Wörter oder ein Ja-Nein-Feld. Leer gelassen, wird das Feld an Namen und Werten erkannt. Wo es keines gibt, gelten alle Epochen mit einer Warnung als fixiert.</translation>
  </message>
  <message>
   <source>Stations</source>
   <translation>Stationen</translation>
  </message>
  <message>
   <source>Stations along edges</source>
   <translation>Stationen entlang der Kanten</translation>
  </message>
  <message>
   <source>Stations measured</source>
   <translation>Gemessene Stationen</translation>
  </message>
  <message>
   <source>Stations of curb height</source>
   <translation>Stationen der Bordhöhe</translation>
  </message>
  <message>
   <source>Stations of “Reconstruct edges”, with the uncertainty along the edges. They tell where an edge is poor; an edge as a whole may still be within the limits.</source>
   <translation>Stationen aus „Kanten rekonstruieren“, mit der Unsicherheit entlang der Kanten. Sie zeigen, wo eine Kante schlecht ist; die Kante als Ganzes kann dennoch innerhalb der Grenzwerte liegen.</translation>
  </message>
  <message>
   <source>Stations outside the range</source>
   <translation>Stationen außerhalb des Bereichs</translation>
  </message>
  <message>
   <source>Stations: {} along “{}”, {} of them with “{}” within {:.4g} m, {} with heights of both.</source>
   <translation>Stationen: {} entlang „{}“, davon {} mit „{}“ innerhalb von {:.4g} m, {} mit Höhen beider.</translation>
  </message>
  <message>
   <source>Status of existing lines</source>
   <translation>Status der Bestandslinien</translation>
  </message>
  <message>
   <source>Statuses that count</source>
   <translation>Statuswerte, die zählen</translation>
  </message>
  <message>
   <source>Straight-line distance between places (m)</source>
   <translation>Weg zwischen den Orten in Luftlinie (m)</translation>
  </message>
  <message>
   <source>Streamed epochs as points, in any CRS, with or without Z, rows in any order; or lines, with M as the time of each vertex or in the order of their vertices; or polygons, each ring of which is a capture.</source>
   <translation>Epochen eines Datenstroms als Punkte, in beliebigem KBS, mit oder ohne Z, Zeilen in beliebiger Reihenfolge; oder Linien, mit M als Zeit jedes Stützpunkts oder in der Reihenfolge ihrer Stützpunkte; oder Polygone, von denen jeder Ring eine Aufnahme ist.</translation>
  </message>
  <message>
   <source>Stretches that are neither tangent nor arc, and are written as free lines (element “spline”): {}.</source>
   <translation>Abschnitte, die weder Gerade noch Kreisbogen sind und als freie Linien geschrieben werden (Element „spline“): {}.</translation>
  </message>
  <message>
   <source>Stretches, as walked, that differ from other walks by more than uncertainty, with how much and why.</source>
   <translation>Abschnitte, wie begangen, die sich von anderen Begehungen um mehr als die Unsicherheit unterscheiden, mit Betrag und Grund.</translation>
  </message>
  <message>
   <source>Summary</source>
   <translation>Zusammenfassung</translation>
  </message>
  <message>
   <source>Summary of the comparison</source>
   <translation>Zusammenfassung des Vergleichs</translation>
  </message>
  <message>
   <source>Surveyed area</source>
   <translation>Aufgenommenes Gebiet</translation>
  </message>
  <message>
   <source>Surveyed area: {}.</source>
   <translation>Aufgenommenes Gebiet: {}.</translation>
  </message>
  <message>
   <source>Table of the sentences that were not used: file, line, kind, reason (checksum, no_checksum, cut_off, no_start, unreadable), text.</source>
   <translation>Tabelle der nicht verwendeten Sätze: Datei, Zeile, Art, Grund (checksum, no_checksum, cut_off, no_start, unreadable), Text.</translation>
  </message>
  <message>
   <source>Take drawn lines as a stream</source>
   <translation>Gezeichnete Linien als Datenstrom verwenden</translation>
  </message>
  <message>
   <source>Takes a shift of the whole existing layer, where it is significant, out before offsets are judged. Without it the shift is only reported.</source>
   <translation>Rechnet einen signifikanten Gesamtversatz des Bestandslayers heraus, bevor die Querabstände beurteilt werden. Ohne dies wird der Versatz nur angegeben.</translation>
  </message>
  <message>
   <source>Takes a significant shift of the whole layer out of every existing line, so that replaced and untouched lines fit together. Without it nothing is shifted.</source>
   <translation>Rechnet einen signifikanten Gesamtversatz des Layers aus jeder Bestandslinie heraus, sodass ersetzte und unberührte Linien zusammenpassen. Ohne dies wird nichts versetzt.</translation>
  </message>
  <message>
   <source>Takes over only what carries the decision “accept”; all else is held back.</source>
   <translation>Übernimmt nur, was die Entscheidung „accept“ trägt; alles andere wird zurückgestellt.</translation>
  </message>
  <message>
   <source>Tangents</source>
   <translation>Geraden</translation>
  </message>
  <message>
   <source>Tangents and arcs</source>
   <translation>Geraden und Kreisbögen</translation>
  </message>
  <message>
   <source>Tangents are extended by so much at most to the corner in which they meet. 0: never.</source>
   <translation>Geraden werden höchstens um diesen Betrag bis zu der Ecke verlängert, in der sie sich schneiden. 0: nie.</translation>
  </message>
  <message>
   <source>Tangents, arcs and corners one by one, with length, bearing, radius and what else belongs to them.</source>
   <translation>Geraden, Kreisbögen und Ecken einzeln, mit Länge, Richtungswinkel, Radius und allem, was sonst dazugehört.</translation>
  </message>
  <message>
   <source>Tells which rejected epochs follow each other. Left empty, it is found from names, types and values.</source>
   <translation>Bestimmt, welche verworfenen Epochen aufeinanderfolgen. Leer gelassen, wird das Feld an Namen, Datentypen und Werten erkannt.</translation>
  </message>
  <message>
   <source>Test value {:.4g}, limit {:.4g} (F, {} and {} degrees of freedom). Noise of the offsets {:.3f} m. Used {:.2f} of {:.2f} m.</source>
   <translation>Testgröße {:.4g}, Grenzwert {:.4g} (F, {} und {} Freiheitsgrade). Rauschen der Querabstände {:.3f} m. Verwendet: {:.2f} von {:.2f} m.</translation>
  </message>
  <message>
   <source>Tested points or lines</source>
   <translation>Geprüfte Punkte oder Linien</translation>
  </message>
  <message>
   <source>The best value of field “{}” is {:.4g}. If it is in metres, raise “{}”; if it is in another unit, bring it into metres, or choose another field in “{}”.</source>
   <translation>Der beste Wert des Feldes „{}“ ist {:.4g}. Ist er in Metern, „{}“ erhöhen; ist er in einer anderen Einheit, ihn in Meter umrechnen oder in „{}“ ein anderes Feld wählen.</translation>
  </message>
  <message>
   <source>The edges as curves with true arcs and heights, in the layer's CRS.</source>
   <translation>Die Kanten als Kurven mit echten Kreisbögen und Höhen, im KBS des Layers.</translation>
  </message>
  <message>
   <source>The edges as tangents, arcs and corners, with the tolerance of the line written.</source>
   <translation>Die Kanten als Geraden, Kreisbögen und Ecken, mit der Toleranz der geschriebenen Linie.</translation>
  </message>
  <message>
   <source>The edges have no heights: the Z values are NaN, and heights do not hold ends apart.</source>
   <translation>Die Kanten haben keine Höhen: Die Z-Werte sind NaN, und Höhen halten keine Enden auseinander.</translation>
  </message>
  <message>
   <source>The edges have no heights: the Z values are NaN.</source>
   <translation>Die Kanten haben keine Höhen: Die Z-Werte sind NaN.</translation>
  </message>
  <message>
   <source>The edges with status and statistics.</source>
   <translation>Die Kanten mit Status und Statistik.</translation>
  </message>
  <message>
   <source>The edges, as lines with heights in the layer's CRS.</source>
   <translation>Die Kanten als Linien mit Höhen im KBS des Layers.</translation>
  </message>
  <message>
   <source>The edges, joined where they belong together.</source>
   <translation>Die Kanten, verbunden, wo sie zusammengehören.</translation>
  </message>
  <message>
   <source>The existing lines again, and what is new.</source>
   <translation>Wiederum die Bestandslinien und das Neue.</translation>
  </message>
  <message>
   <source>The existing lines with status and statistics.</source>
   <translation>Die Bestandslinien mit Status und Statistik.</translation>
  </message>
  <message>
   <source>The file is damaged, or it was changed by hand; use the log as the receiver wrote it.</source>
   <translation>Die Datei ist beschädigt oder wurde von Hand geändert; das Protokoll so verwenden, wie der Empfänger es schrieb.</translation>
  </message>
  <message>
   <source>The folder that “Process captures of a project” wrote: the lists in its curbwright.gpkg stand for the layers below that are left empty.</source>
   <translation>Der Ordner, den „Aufnahmen eines Projekts verarbeiten“ schrieb: Die Listen in seiner curbwright.gpkg treten an die Stelle der leer gelassenen Layer unten.</translation>
  </message>
  <message>
   <source>The input has no heights: the Z values are NaN.</source>
   <translation>Die Eingabe hat keine Höhen: Die Z-Werte sind NaN.</translation>
  </message>
  <message>
   <source>The input moved by the shift, in its own CRS.</source>
   <translation>Die um den Versatz verschobene Eingabe, in ihrem eigenen KBS.</translation>
  </message>
  <message>
   <source>The layer that stays where it is, in any CRS.</source>
   <translation>Der Layer, der bleibt, wo er ist, in beliebigem KBS.</translation>
  </message>
  <message>
   <source>The layer whose shift is asked for, such as surveyed edges or a legacy basemap.</source>
   <translation>Der Layer, dessen Versatz gesucht ist, etwa aufgenommene Kanten oder eine ältere Bestandskarte.</translation>
  </message>
  <message>
   <source>The layers have no CRS, so their places cannot be written as GPX. Assign it (Layer Properties, Source), or write another format.</source>
   <translation>Die Layer haben kein KBS, daher lassen sich ihre Orte nicht als GPX schreiben. Das KBS zuweisen (Layereigenschaften, Quelle) oder ein anderes Format schreiben.</translation>
  </message>
  <message>
   <source>The layers “kept” and “rejected”. Writing points takes longer than all the rest.</source>
   <translation>Die Layer „kept“ und „rejected“. Das Schreiben der Punkte dauert länger als alles Übrige.</translation>
  </message>
  <message>
   <source>The lines do not determine all of the model “{}”: what stays undetermined is reported without a number and not applied. Try “translation”.</source>
   <translation>Die Linien bestimmen das Modell „{}“ nicht vollständig: Was sie offen lassen, wird ohne Zahl angegeben und nicht angewendet. „translation“ versuchen.</translation>
  </message>
  <message>
   <source>The linework that is being judged, in any CRS.</source>
   <translation>Die zu beurteilenden Linien, in beliebigem KBS.</translation>
  </message>
  <message>
   <source>The linework that is brought up to date, in any CRS.</source>
   <translation>Die fortzuführenden Linien, in beliebigem KBS.</translation>
  </message>
  <message>
   <source>The new lines, of the higher accuracy. Not needed to take changes back.</source>
   <translation>Die neuen Linien, von höherer Genauigkeit. Zum Zurücknehmen von Änderungen nicht nötig.</translation>
  </message>
  <message>
   <source>The new lines, of the higher accuracy: edges as reconstructed, or any other lines.</source>
   <translation>Die neuen Linien, von höherer Genauigkeit: Kanten wie rekonstruiert oder beliebige andere Linien.</translation>
  </message>
  <message>
   <source>The parallels, as lines with heights.</source>
   <translation>Die Parallelen als Linien mit Höhen.</translation>
  </message>
  <message>
   <source>The report cannot be written to “{}”: {}.</source>
   <translation>Der Bericht kann nicht nach „{}“ geschrieben werden: {}.</translation>
  </message>
  <message>
   <source>The results are in a temporary folder. QGIS deletes it when it is left, with all decisions and repairs. To keep them, name a folder in “{}”.</source>
   <translation>Die Ergebnisse stehen in einem temporären Ordner. QGIS löscht ihn beim Beenden, mit allen Entscheidungen und Reparaturen. Um sie zu behalten, in „{}“ einen Ordner angeben.</translation>
  </message>
  <message>
   <source>The run failed; the results of the last one are as they were.</source>
   <translation>Der Lauf ist fehlgeschlagen; die Ergebnisse des letzten sind unverändert.</translation>
  </message>
  <message>
   <source>The same page printed, on the paper usual in your country (A4 or Letter). Where QGIS cannot print it here, the log says why: then print the HTML file from a browser, which numbers the pages as well.</source>
   <translation>Dieselbe Seite gedruckt, auf dem landesüblichen Papier (A4 oder Letter). Wo QGIS sie hier nicht drucken kann, sagt das Protokoll, warum: Dann die HTML-Datei aus einem Browser drucken, der die Seiten ebenfalls nummeriert.</translation>
  </message>
  <message>
   <source>The shift is not significant: the moved lines may be no better than the input.</source>
   <translation>Der Versatz ist nicht signifikant: Die verschobenen Linien sind vielleicht nicht besser als die Eingabe.</translation>
  </message>
  <message>
   <source>The shift is still in the offsets: lines that only share it may count as displaced. “{}” takes it out.</source>
   <translation>Der Versatz steckt noch in den Querabständen: Linien, die ihn nur teilen, können als verschoben zählen. „{}“ rechnet ihn heraus.</translation>
  </message>
  <message>
   <source>The table of passes of “Merge repeat passes”. It has no positions: the edges that were merged must be given, too.</source>
   <translation>Die Tabelle der Durchgänge aus „Wiederholte Durchgänge zusammenführen“. Sie enthält keine Positionen: Die zusammengeführten Kanten müssen ebenfalls angegeben werden.</translation>
  </message>
  <message>
   <source>The tops, with statistics of the height along them.</source>
   <translation>Die Oberkanten mit der Statistik der Höhe entlang ihnen.</translation>
  </message>
  <message>
   <source>The walks differ {} {:.1f} times as much as their uncertainties say: these are too good, and so are those of the merged edges. Look for a base, an antenna height or a habit of walking that differs between them (mean offsets in “{}”).</source>
   <translation>Die Begehungen unterscheiden sich {} um das {:.1f}-Fache dessen, was ihre Unsicherheiten angeben: Diese sind zu günstig und damit auch die der zusammengeführten Kanten. Nach einer Basis, einer Antennenhöhe oder einer Gewohnheit beim Begehen suchen, in der sie sich unterscheiden (mittlere Querabstände in „{}“).</translation>
  </message>
  <message>
   <source>The “Status of existing lines” of a comparison with these lines: what people decided there is kept to. Its field “line_id” says which line is meant.</source>
   <translation>Der „Status der Bestandslinien“ eines Vergleichs mit diesen Linien: Was dort entschieden wurde, wird eingehalten. Sein Feld „line_id“ gibt an, welche Linie gemeint ist.</translation>
  </message>
  <message>
   <source>There is no GGA sentence in {}, so there is no epoch to read. Have the receiver write GGA (and GST and RMC or ZDA) as NMEA 0183 text; RMC alone has neither height nor fix quality.</source>
   <translation>In {} steht kein GGA-Satz, also keine lesbare Epoche. Den Empfänger GGA (und GST sowie RMC oder ZDA) als Text nach NMEA 0183 schreiben lassen; RMC allein enthält weder Höhe noch Lösungsqualität.</translation>
  </message>
  <message>
   <source>There is no significant shift, so none was removed.</source>
   <translation>Es gibt keinen signifikanten Versatz, daher wurde keiner herausgerechnet.</translation>
  </message>
  <message>
   <source>They have the time of another epoch of their capture. Choose a field with a time for each epoch in “{}”, or one that tells walks apart in “{}”.</source>
   <translation>Sie haben die Zeit einer anderen Epoche ihrer Aufnahme. In „{}“ ein Feld mit einer Zeit für jede Epoche wählen, oder in „{}“ eines, das die Begehungen unterscheidet.</translation>
  </message>
  <message>
   <source>Time</source>
   <translation>Zeit</translation>
  </message>
  <message>
   <source>Time of each epoch: a date-time, ISO 8601 text with or without a zone (UTC is assumed without one), or a number: seconds or milliseconds since 1970, days, or digits of a date. Left empty, it is found from names, types and values; the log says what was taken, and why. Names and words of many languages are known; add your own in a table “{}” in the folder of the QGIS profile (its form: algorithms/GUIDE.md). Of lines M is the time; where M is none, the order of the vertices stands for it.</source>
   <translation>Zeit jeder Epoche: ein Zeitstempel, Text nach ISO 8601 mit oder ohne Zeitzone (ohne wird UTC angenommen) oder eine Zahl: Sekunden oder Millisekunden seit 1970, Tage oder die Ziffern eines Datums. Leer gelassen, wird das Feld an Namen, Datentypen und Werten erkannt; das Protokoll sagt, was verwendet wurde und warum. Namen und Wörter vieler Sprachen sind bekannt; eigene lassen sich in einer Tabelle „{}“ im Ordner des QGIS-Profils ergänzen (ihre Form: algorithms/GUIDE.md). Bei Linien ist M die Zeit; wo es kein M gibt, steht die Reihenfolge der Stützpunkte dafür.</translation>
  </message>
  <message>
   <source>Time of rejected epochs</source>
   <translation>Zeit der verworfenen Epochen</translation>
  </message>
  <message>
   <source>Tolerance (m)</source>
   <translation>Toleranz (m)</translation>
  </message>
  <message>
   <source>Tolerance of arcs (m)</source>
   <translation>Toleranz der Kreisbögen (m)</translation>
  </message>
  <message>
   <source>Tolerance of the line written (m)</source>
   <translation>Toleranz der geschriebenen Linie (m)</translation>
  </message>
  <message>
   <source>Tops of curb</source>
   <translation>Bordoberkanten</translation>
  </message>
  <message>
   <source>Tops with heights</source>
   <translation>Oberkanten mit Höhen</translation>
  </message>
  <message>
   <source>Total length (m)</source>
   <translation>Gesamtlänge (m)</translation>
  </message>
  <message>
   <source>Transformed</source>
   <translation>Transformiert</translation>
  </message>
  <message>
   <source>Two ends nearer to each other than this are joined. Take it less than the narrowest thing that is to stay open. 0: only ends that touch.</source>
   <translation>Zwei Enden, die näher beieinanderliegen, werden verbunden. Kleiner wählen als das Schmalste, was offen bleiben soll. 0: nur Enden, die sich berühren.</translation>
  </message>
  <message>
   <source>Typical distance allowed between an edge and its elements: for lines, as much as they were thinned or digitised with. Greater means fewer elements. For epochs the noise is found from the data instead. Heights are kept within twice the tolerance.</source>
   <translation>Zulässiger typischer Abstand zwischen einer Kante und ihren Elementen: bei Linien so viel, wie beim Ausdünnen oder Digitalisieren zugelassen war. Größer bedeutet weniger Elemente. Bei Epochen wird stattdessen das Rauschen aus den Daten ermittelt. Höhen werden innerhalb der doppelten Toleranz gehalten.</translation>
  </message>
  <message>
   <source>UTC date of the first time in a file. Used only for files in which neither RMC nor ZDA has a date.</source>
   <translation>UTC-Datum der ersten Zeit in einer Datei. Nur für Dateien verwendet, in denen weder RMC noch ZDA ein Datum hat.</translation>
  </message>
  <message>
   <source>Uncertainty across</source>
   <translation>Unsicherheit quer</translation>
  </message>
  <message>
   <source>Uncertainty of each edge across its direction, 1-sigma in metres. Left empty, “sigma_cross” is taken where it is there, else all walks count alike and the uncertainty is found from their differences.</source>
   <translation>Unsicherheit jeder Kante quer zu ihrer Richtung, als Standardabweichung (1 Sigma) in Metern. Leer gelassen, wird „sigma_cross“ verwendet, wo es vorhanden ist; sonst zählen alle Begehungen gleich, und die Unsicherheit wird aus ihren Differenzen ermittelt.</translation>
  </message>
  <message>
   <source>Uncertainty of heights</source>
   <translation>Unsicherheit der Höhen</translation>
  </message>
  <message>
   <source>Uncertainty of heights (m)</source>
   <translation>Unsicherheit der Höhen (m)</translation>
  </message>
  <message>
   <source>Uncertainty of the edges</source>
   <translation>Unsicherheit der Kanten</translation>
  </message>
  <message>
   <source>Uncertainty of the existing lines (m)</source>
   <translation>Unsicherheit der Bestandslinien (m)</translation>
  </message>
  <message>
   <source>Uncertainty of the heights of each edge, 1-sigma in metres. Left empty, “sigma_up” is taken where it is there, else all walks count alike.</source>
   <translation>Unsicherheit der Höhen jeder Kante, als Standardabweichung (1 Sigma) in Metern. Leer gelassen, wird „sigma_up“ verwendet, wo es vorhanden ist; sonst zählen alle Begehungen gleich.</translation>
  </message>
  <message>
   <source>Update existing linework</source>
   <translation>Bestandslinien fortführen</translation>
  </message>
  <message>
   <source>Update of existing lines</source>
   <translation>Fortführung der Bestandslinien</translation>
  </message>
  <message>
   <source>Update the existing lines</source>
   <translation>Die Bestandslinien fortführen</translation>
  </message>
  <message>
   <source>Update: {}</source>
   <translation>Fortführung: {}</translation>
  </message>
  <message>
   <source>Updated lines</source>
   <translation>Fortgeführte Linien</translation>
  </message>
  <message>
   <source>Validity and status fields</source>
   <translation>Felder für Gültigkeit und Zustand</translation>
  </message>
  <message>
   <source>Values of the fix field that mean a fixed solution, separated by commas, in any case. Left empty, they are the usual words: NMEA quality 4 and the words for a fixed solution in many languages, as the table of names and words has them. A list of your own counts alone.</source>
   <translation>Werte des Lösungsstatusfeldes, die eine fixierte Lösung bedeuten, durch Kommas getrennt, Groß- und Kleinschreibung beliebig. Leer gelassen, gelten die üblichen Wörter: NMEA-Qualität 4 und die Wörter für eine fixierte Lösung in vielen Sprachen, wie sie die Tabelle der Namen und Wörter enthält. Eine eigene Liste gilt allein.</translation>
  </message>
  <message>
   <source>Values that mean fixed</source>
   <translation>Werte, die „fixiert“ bedeuten</translation>
  </message>
  <message>
   <source>Vertical accuracy</source>
   <translation>Höhengenauigkeit</translation>
  </message>
  <message>
   <source>Vertical accuracy of the check points (m)</source>
   <translation>Höhengenauigkeit der Prüfpunkte (m)</translation>
  </message>
  <message>
   <source>Vertical accuracy that the receiver reported, 1-sigma in metres. Left empty, it is found by name. It weights the heights.</source>
   <translation>Vom Empfänger gemeldete Höhengenauigkeit, als Standardabweichung (1 Sigma) in Metern. Leer gelassen, wird das Feld am Namen erkannt. Sie gewichtet die Höhen.</translation>
  </message>
  <message>
   <source>Vertices without a position in the frame, left where they were: {}.</source>
   <translation>Stützpunkte ohne Position im Koordinatensystem der Berechnung, die blieben, wo sie waren: {}.</translation>
  </message>
  <message>
   <source>Visited: {:.2f} of {:.2f} m of “{}”. Lines not visited, of which nothing is said: {}.</source>
   <translation>Begangen: {:.2f} von {:.2f} m aus „{}“. Nicht begangene Linien, über die nichts ausgesagt wird: {}.</translation>
  </message>
  <message>
   <source>Walks of one edge, within one layer or in several, become one edge; what follows takes the merged edges.</source>
   <translation>Begehungen einer Kante, innerhalb eines Layers oder in mehreren, werden zu einer Kante; die folgenden Schritte verwenden die zusammengeführten Kanten.</translation>
  </message>
  <message>
   <source>Warnings: {}.</source>
   <translation>Warnungen: {}.</translation>
  </message>
  <message>
   <source>What a person decided, one row each: an epoch left out or taken back in, a corner or none, a break, a gap bridged (20 m at most), a tangent, an arc or a free form for a stretch. The layer “repairs” of a folder of results, or a table with its fields; epochs are named by capture and time. Epochs themselves are not altered.</source>
   <translation>Was eine Person entschieden hat, je eine Zeile: eine Epoche weggelassen oder zurückgeholt, eine Ecke oder keine, eine Unterbrechung, eine überbrückte Lücke (höchstens 20 m), eine Gerade, ein Kreisbogen oder eine freie Form für einen Abschnitt. Der Layer „repairs“ eines Ergebnisordners oder eine Tabelle mit seinen Feldern; Epochen werden durch Aufnahme und Zeit bezeichnet. Die Epochen selbst werden nicht verändert.</translation>
  </message>
  <message>
   <source>What becomes of short sides and bends that too few epochs confirm. Keep and mark: they are drawn with a larger uncertainty, and their epochs carry the role “doubtful”. Leave out: the line breaks there. Half a metre from epoch to epoch shows jogs; a metre cannot show sides shorter than that, and two metres fail at corners.</source>
   <translation>Was aus kurzen Seiten und Biegungen wird, die zu wenige Epochen bestätigen. Behalten und kennzeichnen: Sie werden mit größerer Unsicherheit gezeichnet, und ihre Epochen tragen die Rolle „doubtful“. Weglassen: Die Linie wird dort unterbrochen. Ein halber Meter von Epoche zu Epoche zeigt Versprünge; ein Meter kann keine kürzeren Seiten zeigen, und zwei Meter versagen an Ecken.</translation>
  </message>
  <message>
   <source>What comes out</source>
   <translation>Was herauskommt</translation>
  </message>
  <message>
   <source>What edges are made of. Automatic: tangents and arcs wherever these explain the epochs, else a spline.</source>
   <translation>Woraus Kanten bestehen. Automatisch: Geraden und Kreisbögen überall dort, wo diese die Epochen erklären, sonst ein Spline.</translation>
  </message>
  <message>
   <source>What is farther from a check point is no partner of it. Take it well above the errors expected, or they are cut off. Not used where identifiers are given.</source>
   <translation>Was weiter von einem Prüfpunkt entfernt ist, gilt nicht als sein Gegenstück. Deutlich größer wählen als die erwarteten Abweichungen, sonst werden diese abgeschnitten. Nicht verwendet, wo Kennungen angegeben sind.</translation>
  </message>
  <message>
   <source>What is to be judged: well-defined points, such as corners, or edges.</source>
   <translation>Was beurteilt werden soll: gut definierte Punkte, etwa Ecken, oder Kanten.</translation>
  </message>
  <message>
   <source>What the table of changes calls a line. Left empty, its feature id.</source>
   <translation>Womit die Tabelle der Änderungen eine Linie bezeichnet. Leer gelassen, mit ihrer Objekt-ID.</translation>
  </message>
  <message>
   <source>What waits for a person, with the reason.</source>
   <translation>Was auf die Entscheidung einer Person wartet, mit dem Grund.</translation>
  </message>
  <message>
   <source>Where a capture also holds the way, standing still for less is not taken for a point. Captures of a spot alone do not mind it.</source>
   <translation>Wo eine Aufnahme auch den Weg enthält, gilt ein kürzerer Stillstand nicht als Punkt. Für Aufnahmen nur eines Einzelpunkts spielt dies keine Rolle.</translation>
  </message>
  <message>
   <source>Where an edge ends and the old line goes on.</source>
   <translation>Wo eine Kante endet und die alte Linie weiterläuft.</translation>
  </message>
  <message>
   <source>Where curbwright.gpkg and report.html are written; results of a former run there are replaced.</source>
   <translation>Wohin curbwright.gpkg und report.html geschrieben werden; Ergebnisse eines früheren Laufs dort werden ersetzt.</translation>
  </message>
  <message>
   <source>Where it is true, yes, 1, −1 or “left”, offsets count to the other side; false, no, 0, “right” and empty leave them.</source>
   <translation>Wo es true, yes, 1, −1 oder „left“ ist, zählen die Querabstände zur jeweils anderen Seite; false, no, 0, „right“ und leer lassen sie unverändert.</translation>
  </message>
  <message>
   <source>Where one edge ends and the next one starts, with seconds, metres and the reason.</source>
   <translation>Wo eine Kante endet und die nächste beginnt, mit Sekunden, Metern und dem Grund.</translation>
  </message>
  <message>
   <source>Where the edge turns by more than this within a step it stays a sharp corner with a vertex of its own; less is treated as a curve.</source>
   <translation>Wo die Kante ihre Richtung innerhalb eines Schritts um mehr als diesen Betrag ändert, bleibt eine scharfe Ecke mit eigenem Stützpunkt; weniger wird als Kurve behandelt.</translation>
  </message>
  <message>
   <source>Where two ends deflect by less they go straight on, and are joined within the tolerance only: where flat tangents meet is uncertain.</source>
   <translation>Wo zwei Enden eine kleinere Richtungsänderung haben, laufen sie geradeaus weiter und werden nur innerhalb der Toleranz verbunden: Wo flach zueinander liegende Geraden sich schneiden, ist unsicher.</translation>
  </message>
  <message>
   <source>Where you will begin, for example the car park. Left empty, the walk begins at one of its ends.</source>
   <translation>Wo die Begehung beginnen soll, zum Beispiel am Parkplatz. Leer gelassen, beginnt sie an einem ihrer Enden.</translation>
  </message>
  <message>
   <source>Without a surveyed area given, the ground within this distance of any edge counts as surveyed.</source>
   <translation>Ist kein aufgenommenes Gebiet angegeben, gilt das Gelände innerhalb dieses Abstands von einer Kante als aufgenommen.</translation>
  </message>
  <message>
   <source>Working CRS</source>
   <translation>Arbeits-KBS</translation>
  </message>
  <message>
   <source>Write kept and rejected epochs</source>
   <translation>Behaltene und verworfene Epochen schreiben</translation>
  </message>
  <message>
   <source>Writes the existing lines once more, in their own fields and CRS, with what is taken over from the edges: what a person accepted in a field “decision” of the results of the last run, or what is clear as well. All else is held back for a person. The existing layer itself is not changed.</source>
   <translation>Schreibt die Bestandslinien noch einmal, in ihren eigenen Feldern und ihrem KBS, mit dem, was aus den Kanten übernommen wird: was eine Person in einem Feld „decision“ der Ergebnisse des letzten Laufs angenommen hat, oder auch, was eindeutig ist. Alles andere wird für eine Person zurückgestellt. Der Bestandslayer selbst wird nicht geändert.</translation>
  </message>
  <message>
   <source>Written as well: {}.</source>
   <translation>Außerdem geschrieben: {}.</translation>
  </message>
  <message>
   <source>across</source>
   <translation>quer</translation>
  </message>
  <message>
   <source>an unknown amount</source>
   <translation>unbekannt</translation>
  </message>
  <message>
   <source>as given</source>
   <translation>wie angegeben</translation>
  </message>
  <message>
   <source>automatic</source>
   <translation>automatisch</translation>
  </message>
  <message>
   <source>by hand</source>
   <translation>von Hand</translation>
  </message>
  <message>
   <source>clear case: matched over {:.0%}, sigma below {:.3f} m</source>
   <translation>eindeutiger Fall: zugeordnet auf mehr als {:.0%}, Sigma unter {:.3f} m</translation>
  </message>
  <message>
   <source>edge {} ({})</source>
   <translation>Kante {} ({})</translation>
  </message>
  <message>
   <source>edges by {}, existing lines by {}</source>
   <translation>Kanten nach {}, Bestandslinien nach {}</translation>
  </message>
  <message>
   <source>edges {}, of them merged from several walks {}; disagreements {}</source>
   <translation>Kanten {}, davon aus mehreren Begehungen zusammengeführt {}; Widersprüche {}</translation>
  </message>
  <message>
   <source>ellipsoidal: height above the WGS 84 ellipsoid, altitude plus geoid separation, in EPSG:4979. orthometric: the receiver's altitude above its own geoid model, in EPSG:4326. Both stand in fields as well, in metres.</source>
   <translation>ellipsoidal: Höhe über dem WGS-84-Ellipsoid, gemeldete Höhe plus Geoidundulation, in EPSG:4979. orthometric: Höhe des Empfängers über seinem eigenen Geoidmodell, in EPSG:4326. Beide stehen auch in Feldern, in Metern.</translation>
  </message>
  <message>
   <source>empty</source>
   <translation>leer</translation>
  </message>
  <message>
   <source>existing line {} ({})</source>
   <translation>Bestandslinie {} ({})</translation>
  </message>
  <message>
   <source>failed: {}</source>
   <translation>fehlgeschlagen: {}</translation>
  </message>
  <message>
   <source>field “{}”</source>
   <translation>Feld „{}“</translation>
  </message>
  <message>
   <source>it cannot be opened. Check its path and the name of the layer.</source>
   <translation>lässt sich nicht öffnen. Pfad und Namen des Layers prüfen.</translation>
  </message>
  <message>
   <source>it is no vector layer.</source>
   <translation>kein Vektorlayer.</translation>
  </message>
  <message>
   <source>its input</source>
   <translation>Eingabe</translation>
  </message>
  <message>
   <source>left empty</source>
   <translation>leer gelassen</translation>
  </message>
  <message>
   <source>no</source>
   <translation>nein</translation>
  </message>
  <message>
   <source>no field</source>
   <translation>kein Feld</translation>
  </message>
  <message>
   <source>none</source>
   <translation>keine</translation>
  </message>
  <message>
   <source>none (plane metres)</source>
   <translation>keines (ebene Meter)</translation>
  </message>
  <message>
   <source>not significant</source>
   <translation>nicht signifikant</translation>
  </message>
  <message>
   <source>nothing</source>
   <translation>nichts</translation>
  </message>
  <message>
   <source>places {}, findings {}</source>
   <translation>Orte {}, Befunde {}</translation>
  </message>
  <message>
   <source>results</source>
   <translation>Ergebnisse</translation>
  </message>
  <message>
   <source>significant</source>
   <translation>signifikant</translation>
  </message>
  <message>
   <source>tangents {}, arcs {}, corners {}</source>
   <translation>Geraden {}, Kreisbögen {}, Ecken {}</translation>
  </message>
  <message>
   <source>temporary layer</source>
   <translation>temporärer Layer</translation>
  </message>
  <message>
   <source>tested by {}, check points by {}</source>
   <translation>Geprüftes nach {}, Prüfpunkte nach {}</translation>
  </message>
  <message>
   <source>tested {}, check points {}</source>
   <translation>Geprüftes {}, Prüfpunkte {}</translation>
  </message>
  <message>
   <source>there is no comparison with the existing lines.</source>
   <translation>es gibt keinen Vergleich mit den Bestandslinien.</translation>
  </message>
  <message>
   <source>translation: east and north. rigid: with a rotation. similarity: with a rotation and a scale factor.</source>
   <translation>translation: Ost und Nord. rigid: mit einer Drehung. similarity: mit einer Drehung und einem Maßstabsfaktor.</translation>
  </message>
  <message>
   <source>unknown</source>
   <translation>unbekannt</translation>
  </message>
  <message>
   <source>up</source>
   <translation>in der Höhe</translation>
  </message>
  <message>
   <source>usual words</source>
   <translation>übliche Wörter</translation>
  </message>
  <message>
   <source>yes</source>
   <translation>ja</translation>
  </message>
  <message>
   <source>{} (empty: {})</source>
   <translation>{} (leer: {})</translation>
  </message>
  <message>
   <source>{} (“{}”). Rows: {}, findings: {}.</source>
   <translation>{} („{}“). Zeilen: {}, Befunde: {}.</translation>
  </message>
  <message>
   <source>{} field</source>
   <translation>{}: Feld</translation>
  </message>
  <message>
   <source>{} fields</source>
   <translation>{}: Felder</translation>
  </message>
  <message>
   <source>{} of {}</source>
   <translation>{} aus {}</translation>
  </message>
  <message>
   <source>{}: {}</source>
   <translation>{}: {}</translation>
  </message>
  <message>
   <source>“Compare edges with existing linework”</source>
   <translation>„Kanten mit Bestandslinien vergleichen“</translation>
  </message>
  <message>
   <source>“Join edge ends”</source>
   <translation>„Kantenenden verbinden“</translation>
  </message>
  <message>
   <source>“Merge repeat passes”</source>
   <translation>„Wiederholte Durchgänge zusammenführen“</translation>
  </message>
  <message>
   <source>“Reconstruct edges”</source>
   <translation>„Kanten rekonstruieren“</translation>
  </message>
  <message>
   <source>“name: offset height” for each line, separated by semicolons or new lines; metres, offset + to the right, height + above the edge. Decimal points; a decimal comma is understood.</source>
   <translation>„Name: Querabstand Höhe“ für jede Linie, getrennt durch Semikolons oder neue Zeilen; Meter, Querabstand + nach rechts, Höhe + über der Kante. Dezimalpunkt; ein Dezimalkomma wird verstanden.</translation>
  </message>
  <message>
   <source>“other_edge” is a neighbour rather than a walk that differs, “remnant” less than a metre long.</source>
   <translation>„other_edge“ ist eher ein Nachbar als eine abweichende Begehung, „remnant“ kürzer als ein Meter.</translation>
  </message>
  <message>
   <source>“target: source; …”: which field of the edges fills which field of the existing layer. Left empty, fields of the same name are taken.</source>
   <translation>„Ziel: Quelle; …“: welches Feld der Kanten welches Feld des Bestandslayers füllt. Leer gelassen, werden gleichnamige Felder verwendet.</translation>
  </message>
  <message>
   <source>“{0}”, field “{1}”: lines without a value: {2}, which are called by their feature id; lines with the value of another one: {3}.</source>
   <translation>„{0}“, Feld „{1}“: Linien ohne Wert: {2}, sie heißen nach ihrer Objekt-ID; Linien mit dem Wert einer anderen: {3}.</translation>
  </message>
  <message>
   <source>“{}” ({}) must be a number from {:g} to {:g}, but is {:g}.</source>
   <translation>„{}“ ({}) muss eine Zahl von {:g} bis {:g} sein, ist aber {:g}.</translation>
  </message>
  <message>
   <source>“{}” ({}) must be a number, but is {}.</source>
   <translation>„{}“ ({}) muss eine Zahl sein, ist aber {}.</translation>
  </message>
  <message>
   <source>“{}” and “{}” hold the same walks: {} of {} edges have the same capture, times and place in both. They are double in the results; leave one of the layers out.</source>
   <translation>„{}“ und „{}“ enthalten dieselben Begehungen: {} von {} Kanten haben in beiden dieselbe Aufnahme, dieselben Zeiten und denselben Ort. Sie sind in den Ergebnissen doppelt; einen der Layer weglassen.</translation>
  </message>
  <message>
   <source>“{}” cannot be read: it is a folder or a device. Choose files in “{}”.</source>
   <translation>„{}“ kann nicht gelesen werden: Das ist ein Ordner oder ein Gerät. Dateien in „{}“ wählen.</translation>
  </message>
  <message>
   <source>“{}” cannot be read: {}. Choose files that are there in “{}”.</source>
   <translation>„{}“ kann nicht gelesen werden: {}. In „{}“ vorhandene Dateien wählen.</translation>
  </message>
  <message>
   <source>“{}” failed while it wrote; not complete: {}.</source>
   <translation>„{}“ ist während des Schreibens fehlgeschlagen; unvollständig: {}.</translation>
  </message>
  <message>
   <source>“{}” failed; nothing was written.</source>
   <translation>„{}“ ist fehlgeschlagen; nichts wurde geschrieben.</translation>
  </message>
  <message>
   <source>“{}” has no CRS: its coordinates are taken as those of the results.</source>
   <translation>„{}“ hat kein KBS: Die Koordinaten gelten als solche im KBS der Ergebnisse.</translation>
  </message>
  <message>
   <source>“{}” has no positions. Choose in “{}” the layer whose walks were merged.</source>
   <translation>„{}“ hat keine Positionen. In „{}“ den Layer wählen, dessen Begehungen zusammengeführt wurden.</translation>
  </message>
  <message>
   <source>“{}” is being edited in this project ({}). Save or end the editing, and run again.</source>
   <translation>„{}“ wird in diesem Projekt gerade bearbeitet ({}). Speichern oder die Bearbeitung beenden und erneut ausführen.</translation>
  </message>
  <message>
   <source>“{}” is empty. Choose at least one file.</source>
   <translation>„{}“ ist leer. Mindestens eine Datei wählen.</translation>
  </message>
  <message>
   <source>“{}” is passed on as it is. If the layers show the same things, check the CRS of both, or raise “{}”.</source>
   <translation>„{}“ wird unverändert weitergegeben. Falls die Layer dasselbe zeigen, das KBS beider prüfen oder „{}“ erhöhen.</translation>
  </message>
  <message>
   <source>“{}” lies outside the range of {}. Choose a point near the data, with its CRS.</source>
   <translation>„{}“ liegt außerhalb des Bereichs von {}. Einen Punkt in der Nähe der Daten wählen, mit seinem KBS.</translation>
  </message>
  <message>
   <source>“{}” lies {:.0f} km from the data. Choose a point near the data, with its CRS.</source>
   <translation>„{}“ liegt {:.0f} km von den Daten entfernt. Einen Punkt in der Nähe der Daten wählen, mit seinem KBS.</translation>
  </message>
  <message>
   <source>“{}” must be less than “{}”.</source>
   <translation>„{}“ muss kleiner sein als „{}“.</translation>
  </message>
  <message>
   <source>“{}” names no value. Give at least one value, for example “4, fixed”, or leave it empty.</source>
   <translation>„{}“ nennt keinen Wert. Mindestens einen Wert angeben, zum Beispiel „4, fixed“, oder die Angabe leer lassen.</translation>
  </message>
  <message>
   <source>“{}” needs “{}”.</source>
   <translation>„{}“ braucht „{}“.</translation>
  </message>
  <message>
   <source>“{}” or “{}” is needed.</source>
   <translation>„{}“ oder „{}“ ist erforderlich.</translation>
  </message>
  <message>
   <source>“{}” was changed in one step.</source>
   <translation>„{}“ wurde in einem Schritt geändert.</translation>
  </message>
  <message>
   <source>“{}” was changed, and saved as a whole.</source>
   <translation>„{}“ wurde geändert und als Ganzes gespeichert.</translation>
  </message>
  <message>
   <source>“{}” was not printed to “{}”: {}.</source>
   <translation>„{}“ wurde nicht nach „{}“ gedruckt: {}.</translation>
  </message>
  <message>
   <source>“{}”, row {}: {}.</source>
   <translation>„{}“, Zeile {}: {}.</translation>
  </message>
  <message>
   <source>“{}”: fields that cannot be called so in a database get another name: {}.</source>
   <translation>„{}“: Felder, die in einer Datenbank nicht so heißen können, bekommen einen anderen Namen: {}.</translation>
  </message>
  <message>
   <source>“{}”: left out: {}.</source>
   <translation>„{}“: weggelassen: {}.</translation>
  </message>
  <message>
   <source>“{}”: lines {}, {:.2f} m, of which {} matched. {}</source>
   <translation>„{}“: Linien {}, {:.2f} m, davon {} zugeordnet. {}</translation>
  </message>
  <message>
   <source>“{}”: no row is for a layer “{}”; rows taken whose capture and time are found in it: {}.</source>
   <translation>„{}“: Keine Zeile gehört zu einem Layer „{}“; verwendete Zeilen, deren Aufnahme und Zeit darin gefunden wurden: {}.</translation>
  </message>
  <message>
   <source>“{}”: points without a place in the CRS of the results: {}. Their rows have no geometry.</source>
   <translation>„{}“: Punkte ohne Ort im KBS der Ergebnisse: {}. Ihre Zeilen haben keine Geometrie.</translation>
  </message>
  <message>
   <source>“{}”: the CRS of “{}” is not known. Give one that is, or none.</source>
   <translation>„{}“: Das KBS von „{}“ ist nicht bekannt. Ein bekanntes angeben, oder keines.</translation>
  </message>
  <message>
   <source>“{}”: there is no {} in “{}” that can be read. Choose the folder that “Process captures of a project” wrote.</source>
   <translation>„{}“: Eine lesbare {} gibt es in „{}“ nicht. Den Ordner wählen, den „Aufnahmen eines Projekts verarbeiten“ geschrieben hat.</translation>
  </message>
  <message>
   <source>“{}”: {} is not a projected CRS in metres. Choose one, or leave it empty.</source>
   <translation>„{}“: {} ist kein projiziertes KBS in Metern. Eines wählen oder die Angabe leer lassen.</translation>
  </message>
  <message>
   <source>“{}”: {}. Write “name: offset height” in metres for each line, separated by semicolons.</source>
   <translation>„{}“: {}. „Name: Querabstand Höhe“ in Metern für jede Linie schreiben, getrennt durch Semikolons.</translation>
  </message>
 </context>
 <context>
  <name>AverageOccupations</name>
  <message>
   <source>Average occupations</source>
   <translation>Einzelpunkte mitteln</translation>
  </message>
  <message>
   <source>Spot points from epochs taken standing still: weighted mean, spread, number of epochs and uncertainty.</source>
   <translation>Einzelpunkte aus im Stillstand aufgenommenen Epochen: gewichtetes Mittel, Streuung, Anzahl der Epochen und Unsicherheit.</translation>
  </message>
  <message>
   <source>Turns epochs that were taken standing still into one point for each stop. A stop is identified by capture, time and place: epochs of one capture that follow each other and stay within the radius. A capture may hold one spot point or several stops, or a walk with stops on it; a trigger released and pressed again at one place does not end a stop. Where a point was occupied again at another time under another name, or after other places, it is a point of its own: that is your check.

Left out, each epoch with its reason: no position, no time, not fixed, poor accuracy, repeated time, taken on the way (“moving”), too few at one place (“too_few”), and gross ones, which deviate from the median of their stop by more than 3.4 (in height 3) robust standard deviations (Hampel identifier: 1.4826 times the median absolute deviation, with wider limits for few epochs). Of two epochs nothing tells which one is wrong: look at their spread. Every row read is either used or rejected.

Points: PointZ in the layer's CRS at the weighted mean (weights 1/sigma² from the accuracy fields, else equal), with capture, started, ended, duration (s), epochs (used), rejected (others of the same capture in that time); sd_east, sd_north, sd_up: standard deviation of one epoch (n − 1); rms_horizontal, max_horizontal: distances of the epochs from the mean; sigma_east, sigma_north, sigma_up: 1-sigma of the mean, sigma_h the radial one. East and north are true ones.

sigma is more than the spread over the root of n. Of the receiver's error half the reported variance (5 mm in plan and 8 mm up where nothing is reported) stays the same over a minute and averages out only over minutes: 74 % of it is left after one, 32 % after five. A pole leans one way for a while, too. A wrong base, a wrong antenna height or a pole out of plumb is in no sigma: occupy again at another time, with another set-up.

All settings are in metres, whatever the layer's CRS. Rows may come in any order. The result is of mapping grade: it is no boundary survey, and not for stake-out without a licensed surveyor.</source>
   <translation>Macht aus Epochen, die im Stillstand aufgenommen wurden, einen Punkt je Halt. Ein Halt ist durch Aufnahme, Zeit und Ort bestimmt: aufeinanderfolgende Epochen einer Aufnahme, die innerhalb des Radius bleiben. Eine Aufnahme kann einen Einzelpunkt oder mehrere Halte enthalten oder eine Begehung mit Halten; eine am selben Ort losgelassene und wieder gedrückte Auslösetaste beendet keinen Halt. Wo ein Punkt zu anderer Zeit unter anderem Namen oder nach anderen Orten erneut besetzt wurde, ist er ein eigener Punkt: Das ist die Kontrolle.

Weggelassen, jede Epoche mit ihrem Grund: keine Position, keine Zeit, nicht fixiert, geringe Genauigkeit, wiederholte Zeit, unterwegs aufgenommen („moving“), zu wenige an einem Ort („too_few“) und grobe, die vom Median ihres Halts um mehr als 3,4 (in der Höhe 3) robuste Standardabweichungen abstehen (Hampel-Kriterium: das 1,4826-Fache der medianen absoluten Abweichung, mit weiteren Grenzen bei wenigen Epochen). Bei zwei Epochen zeigt nichts, welche falsch ist: ihre Streuung ansehen. Jede gelesene Zeile ist entweder verwendet oder verworfen.

Punkte: PointZ im KBS des Layers am gewichteten Mittel (Gewichte 1/sigma² aus den Genauigkeitsfeldern, sonst gleich), mit capture, started, ended, duration (s), epochs (verwendete), rejected (weitere derselben Aufnahme in dieser Zeit); sd_east, sd_north, sd_up: Standardabweichung einer Epoche (n − 1); rms_horizontal, max_horizontal: Abstände der Epochen vom Mittel; sigma_east, sigma_north, sigma_up: 1 Sigma des Mittels, sigma_h das radiale. Ost und Nord beziehen sich auf geographisch Nord.

sigma ist mehr als die Streuung durch die Wurzel aus n. Vom Fehler des Empfängers bleibt die Hälfte der gemeldeten Varianz (5 mm in der Lage und 8 mm in der Höhe, wo nichts gemeldet ist) über eine Minute gleich und mittelt sich erst über Minuten heraus: 74 % davon sind nach einer übrig, 32 % nach fünf. Auch ein Lotstab neigt sich eine Zeit lang in eine Richtung. Eine falsche Basis, eine falsche Antennenhöhe oder ein nicht lotrechter Stab steckt in keinem sigma: zu anderer Zeit mit anderer Aufstellung erneut besetzen.

Alle Einstellungen sind in Metern, unabhängig vom KBS des Layers. Zeilen können in beliebiger Reihenfolge stehen. Das Ergebnis hat Kartiergenauigkeit: Es ist keine Grenzvermessung und ohne befugte Vermessungsstelle nicht zur Absteckung geeignet.</translation>
  </message>
  <message>
   <source>spot point,occupation,average,mean,weighted,standing,stop,dwell,control,check point,gnss,rtk,epochs,standard deviation,outlier,survey,stakeout check,as-built</source>
   <translation>spot point,occupation,average,mean,weighted,standing,stop,dwell,control,check point,gnss,rtk,epochs,standard deviation,outlier,survey,stakeout check,as-built,Einzelpunkt,Standpunkt,Punktbesetzung,mitteln,Mittel,gewichtet,Stillstand,Halt,Kontrolle,Festpunkt,Prüfpunkt,Epochen,Standardabweichung,Ausreißer,Vermessung,Absteckungskontrolle,Bestandsaufnahme</translation>
  </message>
 </context>
 <context>
  <name>BatchBasemap</name>
  <message>
   <source>added</source>
   <translation>hinzugefügt</translation>
  </message>
  <message>
   <source>followed</source>
   <translation>nachgezogen</translation>
  </message>
  <message>
   <source>replaced</source>
   <translation>ersetzt</translation>
  </message>
  <message>
   <source>replaced in part</source>
   <translation>teilweise ersetzt</translation>
  </message>
  <message>
   <source>retired</source>
   <translation>historisiert</translation>
  </message>
  <message>
   <source>shifted</source>
   <translation>versetzt</translation>
  </message>
  <message>
   <source>taken over: {}. {}; held back for a person: {}</source>
   <translation>übernommen: {}. {}; für eine Person zurückgestellt: {}</translation>
  </message>
  <message>
   <source>unchanged</source>
   <translation>unverändert</translation>
  </message>
  <message>
   <source>what was accepted</source>
   <translation>was angenommen wurde</translation>
  </message>
  <message>
   <source>what was accepted, and what is clear</source>
   <translation>was angenommen wurde und was eindeutig ist</translation>
  </message>
  <message>
   <source>“{0}”: rows whose decision is none of the words {2}: {1}, for example “{3}”. They wait for a person.</source>
   <translation>„{0}“: Zeilen, deren Entscheidung keines der Wörter {2} ist: {1}, zum Beispiel „{3}“. Sie warten auf eine Person.</translation>
  </message>
 </context>
 <context>
  <name>CarryColumns</name>
  <message>
   <source>the new results have a field of that name of their own: {}</source>
   <translation>die neuen Ergebnisse haben selbst ein Feld dieses Namens: {}</translation>
  </message>
 </context>
 <context>
  <name>CarryOver</name>
  <message>
   <source>; {} kept in “superseded”, as the new results have no place for them</source>
   <translation>; {} in „superseded“ behalten, da die neuen Ergebnisse keinen Platz für sie haben</translation>
  </message>
  <message>
   <source>; {} taken back from “superseded”, as their lines are there again</source>
   <translation>; {} aus „superseded“ zurückgeholt, da ihre Linien wieder da sind</translation>
  </message>
  <message>
   <source>A change made by hand cannot be carried over into “{}”: {}.</source>
   <translation>Eine von Hand vorgenommene Änderung lässt sich nicht in „{}“ übernehmen: {}.</translation>
  </message>
  <message>
   <source>Changes made by hand: {}.</source>
   <translation>Von Hand vorgenommene Änderungen: {}.</translation>
  </message>
  <message>
   <source>The former results do not say what their run wrote: changes made in them by hand cannot be recognised and are not carried over.</source>
   <translation>Die früheren Ergebnisse geben nicht an, was ihr Lauf schrieb: Von Hand vorgenommene Änderungen darin sind nicht erkennbar und werden nicht übernommen.</translation>
  </message>
  <message>
   <source>The results had triggers of your own ({}), which tables made anew cannot keep: create them again.</source>
   <translation>Die Ergebnisse hatten eigene Trigger ({}), die neu angelegte Tabellen nicht behalten können: sie wieder anlegen.</translation>
  </message>
  <message>
   <source>the layer is not part of the new results</source>
   <translation>der Layer ist nicht Teil der neuen Ergebnisse</translation>
  </message>
  <message>
   <source>{} carried over (edited {}, deleted {}, added {})</source>
   <translation>{} übernommen (bearbeitet {}, gelöscht {}, hinzugefügt {})</translation>
  </message>
  <message>
   <source>“{}” was not in the results of the last run any more: it is made anew. What was changed in it is not carried over.</source>
   <translation>„{}“ war nicht mehr in den Ergebnissen des letzten Laufs: Der Layer wird neu angelegt. Was darin geändert war, wird nicht übernommen.</translation>
  </message>
  <message>
   <source>“{}”, {}: rows kept in “superseded”: {} ({}).</source>
   <translation>„{}“, {}: Zeilen in „superseded“: {} ({}).</translation>
  </message>
 </context>
 <context>
  <name>CheckAccuracy</name>
  <message>
   <source>ASPRS RMSE_3D (m)</source>
   <translation>ASPRS RMSE_3D (m)</translation>
  </message>
  <message>
   <source>ASPRS RMSE_H (m)</source>
   <translation>ASPRS RMSE_H (m)</translation>
  </message>
  <message>
   <source>ASPRS RMSE_V (m)</source>
   <translation>ASPRS RMSE_V (m)</translation>
  </message>
  <message>
   <source>Accuracy across lines, 95 % (m)</source>
   <translation>Genauigkeit quer zu Linien, 95 % (m)</translation>
  </message>
  <message>
   <source>Accuracy of points or lines against check points, after NSSDA and ASPRS Edition 2.</source>
   <translation>Genauigkeit von Punkten oder Linien, geprüft an Prüfpunkten nach NSSDA und ASPRS Edition 2.</translation>
  </message>
  <message>
   <source>Check accuracy against check points</source>
   <translation>Genauigkeit an Prüfpunkten prüfen</translation>
  </message>
  <message>
   <source>Check points used</source>
   <translation>Verwendete Prüfpunkte</translation>
  </message>
  <message>
   <source>Compares tested points or lines with check points of higher accuracy, from an independent survey.

Points: each check point is paired with the tested point of the same identifier, or, without identifiers, with its nearest neighbour where each is the other's nearest. Horizontal accuracy after the NSSDA (with its approximation where RMSE east and north differ, and no value below a ratio of 0.6), RMSE_H, RMSE_V and RMSE_3D after ASPRS Edition 2 with the error of the check points.

Lines: each check point is compared with the nearest place on the nearest line. Only the offset across the line is seen (+ where the check point lies to the right of the line), so its 95 % value uses the factor 1.9600 and is no NSSDA horizontal accuracy. Check points that lie beyond the end of a line are set aside.

Errors are tested minus check, in metres on the ground, along the axes of the tested layer's CRS. Outliers are flagged by a robust rule and stay in the statistics: look at them, and correct or explain them. Under 20 check points (NSSDA) and under 30 (ASPRS) a warning is given.

States of check points: used, beyond_end, no_partner, no_position.</source>
   <translation>Vergleicht geprüfte Punkte oder Linien mit Prüfpunkten höherer Genauigkeit aus einer unabhängigen Vermessung.

Punkte: Jedem Prüfpunkt wird der geprüfte Punkt mit derselben Kennung zugeordnet oder, ohne Kennungen, sein nächster Nachbar, sofern jeder der nächste des anderen ist. Lagegenauigkeit nach NSSDA (mit deren Näherung, wo sich RMSE Ost und RMSE Nord unterscheiden, und ohne Wert unter einem Verhältnis von 0,6), RMSE_H, RMSE_V und RMSE_3D nach ASPRS Edition 2 mit dem Fehler der Prüfpunkte.

Linien: Jeder Prüfpunkt wird mit der nächsten Stelle der nächsten Linie verglichen. Zu sehen ist nur der Querabstand zur Linie (+ wo der Prüfpunkt rechts der Linie liegt), daher verwendet der 95-%-Wert den Faktor 1,9600 und ist keine Lagegenauigkeit nach NSSDA. Prüfpunkte jenseits des Endes einer Linie bleiben außer Betracht.

Abweichungen sind geprüft minus Prüfpunkt, in Metern in der Örtlichkeit, entlang der Achsen des KBS des geprüften Layers. Ausreißer werden nach einer robusten Regel gekennzeichnet und bleiben in der Statistik: sie ansehen und berichtigen oder erklären. Unter 20 Prüfpunkten (NSSDA) und unter 30 (ASPRS) wird gewarnt.

Zustände der Prüfpunkte: used, beyond_end, no_partner, no_position.</translation>
  </message>
  <message>
   <source>Mean across lines (m)</source>
   <translation>Mittel quer zu Linien (m)</translation>
  </message>
  <message>
   <source>Mean east (m)</source>
   <translation>Mittel Ost (m)</translation>
  </message>
  <message>
   <source>Mean north (m)</source>
   <translation>Mittel Nord (m)</translation>
  </message>
  <message>
   <source>Mean up (m)</source>
   <translation>Mittel Höhe (m)</translation>
  </message>
  <message>
   <source>NSSDA horizontal accuracy (m)</source>
   <translation>Lagegenauigkeit nach NSSDA (m)</translation>
  </message>
  <message>
   <source>NSSDA vertical accuracy (m)</source>
   <translation>Höhengenauigkeit nach NSSDA (m)</translation>
  </message>
  <message>
   <source>Outliers</source>
   <translation>Ausreißer</translation>
  </message>
  <message>
   <source>RMSE across lines (m)</source>
   <translation>RMSE quer zu Linien (m)</translation>
  </message>
  <message>
   <source>RMSE east (m)</source>
   <translation>RMSE Ost (m)</translation>
  </message>
  <message>
   <source>RMSE north (m)</source>
   <translation>RMSE Nord (m)</translation>
  </message>
  <message>
   <source>RMSE up (m)</source>
   <translation>RMSE Höhe (m)</translation>
  </message>
  <message>
   <source>Radial RMSE (m)</source>
   <translation>Radialer RMSE (m)</translation>
  </message>
  <message>
   <source>accuracy,check points,rmse,nssda,asprs,survey,curb,kerb,edge,quality,outlier,vertical,horizontal,stakeout check,setting-out check,as-built</source>
   <translation>accuracy,check points,rmse,nssda,asprs,survey,curb,kerb,edge,quality,outlier,vertical,horizontal,stakeout check,setting-out check,as-built,Genauigkeit,Prüfpunkte,Kontrollpunkte,Vermessung,Bordstein,Kante,Qualität,Ausreißer,Höhe,Lage,Absteckungskontrolle,Bestandsaufnahme</translation>
  </message>
 </context>
 <context>
  <name>CheckedLayer</name>
  <message>
   <source>Check points are brought from {} into {}.</source>
   <translation>Prüfpunkte werden von {} nach {} transformiert.</translation>
  </message>
  <message>
   <source>Layer “{}” is empty: there is no check point.</source>
   <translation>Layer „{}“ ist leer: Es gibt keinen Prüfpunkt.</translation>
  </message>
  <message>
   <source>Layers “{}” and “{}” cannot be compared: {}.</source>
   <translation>Layer „{}“ und „{}“ lassen sich nicht vergleichen: {}.</translation>
  </message>
  <message>
   <source>The identifier “{}” stands for several points of one layer (“{}” or the check points). Identifiers must be unique; choose another field, or leave both empty to pair by nearness.</source>
   <translation>Die Kennung „{}“ steht für mehrere Punkte eines Layers („{}“ oder die Prüfpunkte). Kennungen müssen eindeutig sein; ein anderes Feld wählen oder beide leer lassen, um nach Nähe zuzuordnen.</translation>
  </message>
  <message>
   <source>field “{}”</source>
   <translation>Feld „{}“</translation>
  </message>
 </context>
 <context>
  <name>Checks</name>
  <message>
   <source>it cannot be opened again</source>
   <translation>das Geschriebene lässt sich nicht wieder öffnen</translation>
  </message>
  <message>
   <source>it holds {} of {} rows</source>
   <translation>enthalten sind {} von {} Zeilen</translation>
  </message>
  <message>
   <source>the file cannot be opened again</source>
   <translation>die Datei lässt sich nicht wieder öffnen</translation>
  </message>
  <message>
   <source>the file is not there</source>
   <translation>die Datei ist nicht vorhanden</translation>
  </message>
  <message>
   <source>“{}” has {} of {} bytes</source>
   <translation>„{}“ hat {} von {} Bytes</translation>
  </message>
 </context>
 <context>
  <name>Columns</name>
  <message>
   <source>Layer “{}”: field “{}” holds no numbers, but “{}” needs metres. Choose a numeric field, or leave it empty.</source>
   <translation>Layer „{}“: Feld „{}“ enthält keine Zahlen, „{}“ braucht aber Meter. Ein Zahlenfeld wählen oder die Angabe leer lassen.</translation>
  </message>
 </context>
 <context>
  <name>CompareEdges</name>
  <message>
   <source>Compare edges with existing linework</source>
   <translation>Kanten mit Bestandslinien vergleichen</translation>
  </message>
  <message>
   <source>Compares edges with the lines of an existing layer, along the lines and not feature by feature: one edge may lie along several existing lines, and the other way round. Parallel neighbours are told apart; directions, vertices and parts do not matter.

Offsets are measured at stations along the existing lines, perpendicular to them, + where the edge lies to the right of the existing line in its own direction, in metres on the ground.

Status of a line: “agrees” (no offset beyond the combined uncertainty of both), “displaced” (beyond it), “only_new” (an edge without a counterpart), “only_existing” (an existing line without one), “partly” (less than four fifths of it are of one kind), “not_visited” (an existing line where nobody surveyed: outside the surveyed area, or farther from all edges than its reach). A line that was visited in part is judged on that part.

An offset counts as a displacement only beyond z · √(sigma of the edge² + sigma of the existing lines²), with z of the normal distribution at the confidence asked for (1.96 at 0.95): perpendicular offsets are one-dimensional. Among many lines a few pass that limit by chance, so a line is only called displaced as far as chance finds stay below 1 − confidence of all so called (Benjamini and Hochberg 1995).

Shift: SHIFT_EAST and SHIFT_NORTH say where the existing layer lies as seen from the edges. Subtract them from the existing lines to bring these onto the edges; they are what “Estimate shift” adds to the edges. Lines that really moved do not count in it. With “Remove the shift” a significant one is taken out before anything is judged, so that a datum shift is told apart from real change; geometries stay as they are. The log says first how many lines are displaced with the shift left in, and without it.

Completeness and correctness by the simple buffer method of Goodchild and Hunter (1997), with the search distance as half width: the share of the edges within the buffer round the existing lines, and of the existing lines, as far as they were visited, within that round the edges.

Both layers may have any CRS; the existing lines are brought to the edges by the project's own transformation, which the log names. Results come back in each layer's CRS, stations in that of the existing lines.</source>
   <translation>Vergleicht Kanten mit den Linien eines Bestandslayers, und zwar entlang der Linien und nicht Objekt für Objekt: Eine Kante kann an mehreren Bestandslinien liegen und umgekehrt. Parallele Nachbarn werden unterschieden; Richtungen, Stützpunkte und Teile spielen keine Rolle.

Querabstände werden an Stationen entlang der Bestandslinien rechtwinklig zu diesen gemessen, + wo die Kante rechts der Bestandslinie in deren eigener Richtung liegt, in Metern in der Örtlichkeit.

Status einer Linie: „agrees“ (kein Querabstand über die gemeinsame Unsicherheit beider hinaus), „displaced“ (darüber hinaus), „only_new“ (eine Kante ohne Gegenstück), „only_existing“ (eine Bestandslinie ohne Gegenstück), „partly“ (weniger als vier Fünftel sind von einer Art), „not_visited“ (eine Bestandslinie, wo niemand aufgenommen hat: außerhalb des aufgenommenen Gebiets oder weiter von allen Kanten entfernt als die Reichweite der Vermessung). Eine nur zum Teil begangene Linie wird nach diesem Teil beurteilt.

Ein Querabstand zählt nur dann als Verschiebung, wenn er z · √(Sigma der Kante² + Sigma der Bestandslinien²) überschreitet, mit z aus der Normalverteilung beim gewünschten Vertrauensniveau (1,96 bei 0,95): Rechtwinklige Abstände sind eindimensional. Unter vielen Linien überschreiten einige diese Grenze durch Zufall; daher heißt eine Linie nur so weit verschoben, wie die Zufallsfunde unter allen so bezeichneten unter 1 − Vertrauensniveau bleiben (Benjamini und Hochberg 1995).

Versatz: SHIFT_EAST und SHIFT_NORTH geben an, wo der Bestandslayer von den Kanten aus gesehen liegt. Sie von den Bestandslinien abziehen, um diese auf die Kanten zu bringen; es sind dieselben Werte, die „Versatz schätzen“ zu den Kanten addiert. Linien, die wirklich verlegt wurden, bleiben dabei unberücksichtigt. Mit „Versatz herausrechnen“ wird ein signifikanter Versatz vor jeder Beurteilung herausgerechnet, sodass sich ein Datumsversatz von wirklichen Änderungen unterscheiden lässt; die Geometrien bleiben, wie sie sind. Das Protokoll nennt zuerst, wie viele Linien mit dem Versatz verschoben sind und wie viele ohne ihn.

Vollständigkeit und Korrektheit nach dem einfachen Pufferverfahren von Goodchild und Hunter (1997), mit der Suchdistanz als halber Breite: der Anteil der Kanten innerhalb des Puffers um die Bestandslinien und der Anteil der Bestandslinien, soweit sie begangen wurden, innerhalb des Puffers um die Kanten.

Beide Layer können in beliebigem KBS vorliegen; die Bestandslinien werden mit der Transformation des Projekts, die das Protokoll nennt, zu den Kanten gebracht. Die Ergebnisse werden im KBS des jeweiligen Layers geliefert, die Stationen in dem der Bestandslinien.</translation>
  </message>
  <message>
   <source>Completeness (0 to 1)</source>
   <translation>Vollständigkeit (0 bis 1)</translation>
  </message>
  <message>
   <source>Correctness (0 to 1)</source>
   <translation>Korrektheit (0 bis 1)</translation>
  </message>
  <message>
   <source>Existing lines displaced, the shift left in</source>
   <translation>Verschobene Bestandslinien, mit dem Versatz</translation>
  </message>
  <message>
   <source>Existing lines displaced, the shift taken out</source>
   <translation>Verschobene Bestandslinien, ohne den Versatz</translation>
  </message>
  <message>
   <source>Matched length (m)</source>
   <translation>Zugeordnete Länge (m)</translation>
  </message>
  <message>
   <source>RMSE of the offsets (m)</source>
   <translation>RMSE der Querabstände (m)</translation>
  </message>
  <message>
   <source>Shift of the existing lines, east (m)</source>
   <translation>Versatz der Bestandslinien, Ost (m)</translation>
  </message>
  <message>
   <source>Shift of the existing lines, north (m)</source>
   <translation>Versatz der Bestandslinien, Nord (m)</translation>
  </message>
  <message>
   <source>What agrees with an existing basemap, what moved and by how much, what is new, what is gone.</source>
   <translation>Was mit einer Bestandskarte übereinstimmt, was sich um wie viel verschoben hat, was neu ist und was weggefallen ist.</translation>
  </message>
  <message>
   <source>compare,change,offset,displacement,conflation,matching,basemap,curb,kerb,edge,linework,shift,accuracy,hausdorff,buffer,conflate,as-built,map update,change detection,kerbline</source>
   <translation>compare,change,offset,displacement,conflation,matching,basemap,curb,kerb,edge,linework,shift,accuracy,hausdorff,buffer,conflate,as-built,map update,change detection,kerbline,vergleichen,Vergleich,Änderung,Querabstand,Verschiebung,Zuordnung,Bestandskarte,Bordstein,Kante,Bestandslinien,Versatz,Genauigkeit,Puffer,Fortführung,Änderungserkennung,Bordlinie</translation>
  </message>
 </context>
 <context>
  <name>Control</name>
  <message>
   <source>, {:+.3f} m up (± {:.3f} m)</source>
   <translation>, {:+.3f} m in der Höhe (± {:.3f} m)</translation>
  </message>
  <message>
   <source>Control, {} No shift beyond chance.</source>
   <translation>Festpunktkontrolle, {} Kein Versatz, der über den Zufall hinausgeht.</translation>
  </message>
  <message>
   <source>Control: this day is off {}. {} Check coordinates of the base, antenna height and correction service before its results are used: {}.</source>
   <translation>Festpunktkontrolle: Dieser Tag weicht {} ab. {} Koordinaten der Basis, Antennenhöhe und Korrekturdienst prüfen, bevor seine Ergebnisse verwendet werden: {}.</translation>
  </message>
  <message>
   <source>Not checked, as nobody stood still within {:.4g} m of a control point: {}.</source>
   <translation>Nicht kontrolliert, da es innerhalb von {:.4g} m um einen Festpunkt keinen Stillstand gab: {}.</translation>
  </message>
  <message>
   <source>all days</source>
   <translation>alle Tage</translation>
  </message>
  <message>
   <source>days checked {}, off {}</source>
   <translation>kontrollierte Tage {}, abweichend {}</translation>
  </message>
  <message>
   <source>either the control points “{}” or the results have no CRS.</source>
   <translation>entweder die Festpunkte „{}“ oder die Ergebnisse haben kein KBS.</translation>
  </message>
  <message>
   <source>in height</source>
   <translation>in der Höhe</translation>
  </message>
  <message>
   <source>in plan</source>
   <translation>in der Lage</translation>
  </message>
  <message>
   <source>in plan and height</source>
   <translation>in Lage und Höhe</translation>
  </message>
  <message>
   <source>results</source>
   <translation>Ergebnisse</translation>
  </message>
  <message>
   <source>the control points “{}” cannot be used: {}.</source>
   <translation>die Festpunkte „{}“ können nicht verwendet werden: {}.</translation>
  </message>
  <message>
   <source>there is no control point in “{}”.</source>
   <translation>in „{}“ gibt es keinen Festpunkt.</translation>
  </message>
  <message>
   <source>{:+.3f} m east, {:+.3f} m north (± {:.3f} m)</source>
   <translation>{:+.3f} m Ost, {:+.3f} m Nord (± {:.3f} m)</translation>
  </message>
  <message>
   <source>{}: {}. Control points: {}.</source>
   <translation>{}: {}. Festpunkte: {}.</translation>
  </message>
 </context>
 <context>
  <name>CoordinateSteps</name>
  <message>
   <source>Layer “{}”: its coordinates are rounded, which adds {:.3g} m across and {:.3g} m up (1-sigma) to the uncertainty of its lines.</source>
   <translation>Layer „{}“: Seine Koordinaten sind gerundet; zur Unsicherheit seiner Linien kommen {:.3g} m quer und {:.3g} m in der Höhe (1 Sigma) hinzu.</translation>
  </message>
  <message>
   <source>Layer “{}”: its positions are rounded to steps of {:.3g} m, so results may be off by as much, for which {:.3g} m are added to their uncertainties (1-sigma). Use positions with more decimals.</source>
   <translation>Layer „{}“: Seine Positionen sind auf Schritte von {:.3g} m gerundet; Ergebnisse können um so viel daneben liegen, wofür {:.3g} m zu ihren Unsicherheiten hinzukommen (1 Sigma). Positionen mit mehr Dezimalen verwenden.</translation>
  </message>
 </context>
 <context>
  <name>CurbHeight</name>
  <message>
   <source>Height of the top above the flow line along the curb, with uncertainty, flagged outside a range.</source>
   <translation>Höhe der Oberkante über der Rinnensohle entlang des Bordsteins, mit Unsicherheit, außerhalb eines Bereichs gekennzeichnet.</translation>
  </message>
  <message>
   <source>Measure curb height</source>
   <translation>Bordhöhe messen</translation>
  </message>
  <message>
   <source>Measures how high a curb is (its reveal, or upstand) where both its top and its flow line were captured: at stations along the top, the height of the top less that of the flow line next to it, and their distance in plan, + where the flow line lies to the right of the top. Of several flow lines within reach the nearest counts; directions do not matter.

Stations: a point on the top with height, distance, sigma (1-sigma: root of sigma_up² of both), state (within, low, high; no_height where a line has none) and certain: true where the height lies outside the range by more than 1.96 sigma, which chance explains once in twenty times at most. Tops: every field, then stations, measured (with a flow line and a height), outside, outside_certain, height_mean, height_min, height_max, height_sd, distance_mean, sigma_height (m).

The range of 0.10 to 0.15 m covers common practice: a vertical curb of 6 in (150 mm) in the US, where 4 to 9 in are seen, and 100 to 125 mm in the UK, 120 mm a common standard, with 25 mm or more for any raised kerb. Set it to what was built.

Flush and nearly flush curbs are below the vertical noise: a dropped kerb of 6 mm, or the level change of 1/4 in (6.4 mm) that the 2010 ADA Standards (303) let pass, cannot be told from none with RTK heights of 15 to 20 mm each. Do not judge accessibility by this. A drop of the whole curb shows, and where it is. What both captures have in common (a wrong base height) cancels; what changed between them (another antenna height, another day's satellites) does not, and sigma does not know of it: check one place with a rule.

The result is of mapping grade: it is no as-built record, and not for stake-out without a licensed surveyor.</source>
   <translation>Misst, wie hoch ein Bordstein ist (seine sichtbare Höhe), wo sowohl seine Oberkante als auch seine Rinnensohle aufgenommen wurden: an Stationen entlang der Oberkante deren Höhe abzüglich der Höhe der benachbarten Rinnensohle sowie ihren Abstand im Grundriss, + wo die Rinnensohle rechts der Oberkante liegt. Von mehreren Rinnensohlen in Reichweite zählt die nächste; Richtungen spielen keine Rolle.

Stationen: ein Punkt auf der Oberkante mit height, distance, sigma (1 Sigma: Wurzel der Summe von sigma_up² beider), state (within, low, high; no_height, wo eine Linie keine Höhe hat) und certain: true, wo die Höhe um mehr als 1,96 sigma außerhalb des Bereichs liegt, was der Zufall höchstens einmal unter zwanzig erklärt. Oberkanten: alle Felder, dann stations, measured (mit Rinnensohle und Höhe), outside, outside_certain, height_mean, height_min, height_max, height_sd, distance_mean, sigma_height (m).

Der Bereich von 0,10 bis 0,15 m deckt verbreitete Praxis ab: ein senkrechter Bordstein von 6 in (150 mm) in den USA, wo 4 bis 9 in vorkommen, und 100 bis 125 mm im Vereinigten Königreich, 120 mm eine verbreitete Norm, mit 25 mm oder mehr für jeden erhöhten Bordstein. Auf das einstellen, was gebaut wurde.

Bündige und nahezu bündige Bordsteine liegen unter dem Höhenrauschen: Ein abgesenkter Bord von 6 mm oder der Höhenunterschied von 1/4 in (6,4 mm), den die 2010 ADA Standards (303) zulassen, ist mit RTK-Höhen von je 15 bis 20 mm nicht von keinem zu unterscheiden. Barrierefreiheit nicht danach beurteilen. Eine Absenkung des ganzen Bordsteins zeigt sich, und wo sie liegt. Was beide Aufnahmen gemeinsam haben (eine falsche Basishöhe), hebt sich auf; was sich zwischen ihnen geändert hat (eine andere Antennenhöhe, die Satelliten eines anderen Tages), nicht, und sigma enthält es nicht: eine Stelle mit dem Zollstock prüfen.

Das Ergebnis hat Kartiergenauigkeit: Es ist keine Bestandsdokumentation und ohne befugte Vermessungsstelle nicht zur Absteckung geeignet.</translation>
  </message>
  <message>
   <source>curb height,kerb,reveal,upstand,face,flow line,gutter,top of curb,dropped curb,station,chainage,clearance,kerbline,as-built,stakeout check</source>
   <translation>curb height,kerb,reveal,upstand,face,flow line,gutter,top of curb,dropped curb,station,chainage,clearance,kerbline,as-built,stakeout check,Bordhöhe,Bordstein,Auftritt,Bordanschlag,Ansichtsfläche,Rinnensohle,Rinne,Bordoberkante,abgesenkter Bord,Bordabsenkung,Station,Stationierung,Bestandsaufnahme,Absteckungskontrolle</translation>
  </message>
 </context>
 <context>
  <name>CurbwrightPlugin</name>
  <message>
   <source> ({} more in the log)</source>
   <translation> ({} weitere im Protokoll)</translation>
  </message>
  <message>
   <source>All steps</source>
   <translation>Alle Schritte</translation>
  </message>
  <message>
   <source>All that Curbwright needs is here.</source>
   <translation>Alles, was Curbwright braucht, ist vorhanden.</translation>
  </message>
  <message>
   <source>Check installation</source>
   <translation>Installation prüfen</translation>
  </message>
  <message>
   <source>Folder for a copy of the sample project</source>
   <translation>Ordner für eine Kopie des Beispielprojekts</translation>
  </message>
  <message>
   <source>Help</source>
   <translation>Hilfe</translation>
  </message>
  <message>
   <source>Nothing works without it.</source>
   <translation>Ohne dies funktioniert nichts.</translation>
  </message>
  <message>
   <source>Open the sample project…</source>
   <translation>Beispielprojekt öffnen…</translation>
  </message>
  <message>
   <source>Reconstruct edges…</source>
   <translation>Kanten rekonstruieren…</translation>
  </message>
  <message>
   <source>Review edges…</source>
   <translation>Kanten prüfen…</translation>
  </message>
  <message>
   <source>Review…</source>
   <translation>Prüfung…</translation>
  </message>
  <message>
   <source>See which edges deserve a look.</source>
   <translation>Nachsehen, welche Kanten einen Blick verdienen.</translation>
  </message>
  <message>
   <source>Something that Curbwright needs is missing.</source>
   <translation>Etwas, das Curbwright braucht, fehlt.</translation>
  </message>
  <message>
   <source>The sample project cannot be copied to “{}”: {}.</source>
   <translation>Das Beispielprojekt lässt sich nicht nach „{}“ kopieren: {}.</translation>
  </message>
  <message>
   <source>What works without it: {}.</source>
   <translation>Was ohne dies funktioniert: {}.</translation>
  </message>
  <message>
   <source>{} is missing or too old.</source>
   <translation>{} fehlt oder ist zu alt.</translation>
  </message>
  <message>
   <source>{} is missing or too old. {} “{}” in the menu says how to get it.</source>
   <translation>{} fehlt oder ist zu alt. {} „{}“ im Menü gibt an, wie es zu bekommen ist.</translation>
  </message>
  <message>
   <source>{}: {}</source>
   <translation>{}: {}</translation>
  </message>
 </context>
 <context>
  <name>Decisions</name>
  <message>
   <source>Decisions of “{}” on lines that “{}” has not: {}. They count nowhere. Check that both belong together.</source>
   <translation>Entscheidungen in „{}“ zu Linien, die „{}“ nicht hat: {}. Sie zählen nirgends. Prüfen, ob beide zusammengehören.</translation>
  </message>
  <message>
   <source>Field “{}” holds “{}”; decisions are: {}.</source>
   <translation>Feld „{}“ enthält „{}“; mögliche Entscheidungen: {}.</translation>
  </message>
  <message>
   <source>Layer “{}” cannot be edited. Save it under another name and review that one.</source>
   <translation>Layer „{}“ lässt sich nicht bearbeiten. Unter anderem Namen speichern und diesen prüfen.</translation>
  </message>
  <message>
   <source>Layer “{}” does not open for editing.</source>
   <translation>Layer „{}“ lässt sich nicht zum Bearbeiten öffnen.</translation>
  </message>
  <message>
   <source>Layer “{}” has no field “{}”, which says which existing line a decision is on. Choose the “Status of existing lines” of a comparison in “{}”.</source>
   <translation>Layer „{}“ hat kein Feld „{}“, das angibt, welche Bestandslinie eine Entscheidung betrifft. In „{}“ den „Status der Bestandslinien“ eines Vergleichs wählen.</translation>
  </message>
  <message>
   <source>Layer “{}” refused a decision; it is as it was.</source>
   <translation>Layer „{}“ hat eine Entscheidung abgelehnt; er ist unverändert.</translation>
  </message>
  <message>
   <source>The layer is not in the project any more.</source>
   <translation>Der Layer ist nicht mehr im Projekt.</translation>
  </message>
 </context>
 <context>
  <name>Dependencies</name>
  <message>
   <source>If that one is older than 2.0:</source>
   <translation>Falls dieses älter ist als 2.0:</translation>
  </message>
  <message>
   <source>In a terminal where the environment of QGIS is active: “conda install -c conda-forge '{}'”.</source>
   <translation>In einem Terminal, in dem die Umgebung von QGIS aktiv ist: „conda install -c conda-forge '{}'“.</translation>
  </message>
  <message>
   <source>In a terminal: “{} -m pip install --user '{}'”.</source>
   <translation>In einem Terminal: „{} -m pip install --user '{}'“.</translation>
  </message>
  <message>
   <source>In a terminal: “{}”.</source>
   <translation>In einem Terminal: „{}“.</translation>
  </message>
  <message>
   <source>Install “{}” for Python 3 with the package manager of your distribution; where it has none, or an older one: “{}”.</source>
   <translation>„{}“ für Python 3 mit der Paketverwaltung der Distribution installieren; wo es dort fehlt oder zu alt ist: „{}“.</translation>
  </message>
  <message>
   <source>It needs pip, which is missing here.</source>
   <translation>Dafür ist pip nötig, das hier fehlt.</translation>
  </message>
  <message>
   <source>Open the OSGeo4W Shell, which stands beside QGIS in the start menu, and run “python -m pip install --user "{}"”.</source>
   <translation>Die OSGeo4W-Shell öffnen, die im Startmenü bei QGIS steht, und „python -m pip install --user "{}"“ ausführen.</translation>
  </message>
  <message>
   <source>QGIS runs in a Flatpak, which has a Python of its own and sees nothing that the system has installed. In a terminal: “flatpak run --command=python3 {} -m pip install --user '{}'”.</source>
   <translation>QGIS läuft in einem Flatpak, das ein eigenes Python hat und nichts von dem sieht, was im System installiert ist. In einem Terminal: „flatpak run --command=python3 {} -m pip install --user '{}'“.</translation>
  </message>
  <message>
   <source>QGIS.app/Contents/MacOS/bin/python3</source>
   <translation>QGIS.app/Contents/MacOS/bin/python3</translation>
  </message>
  <message>
   <source>The Python package “{}” ({}) cannot be loaded: {}. {}</source>
   <translation>Das Python-Paket „{}“ ({}) lässt sich nicht laden: {}. {}</translation>
  </message>
  <message>
   <source>The Python package “{}” is version {}; Curbwright needs {} or newer. {}</source>
   <translation>Das Python-Paket „{}“ hat die Version {}; Curbwright braucht {} oder neuer. {}</translation>
  </message>
  <message>
   <source>The package of this release is too old.</source>
   <translation>Das Paket dieser Version der Distribution ist zu alt.</translation>
  </message>
  <message>
   <source>Then start QGIS again.</source>
   <translation>Dann QGIS neu starten.</translation>
  </message>
  <message>
   <source>arrays</source>
   <translation>Felder von Zahlen</translation>
  </message>
  <message>
   <source>fitting edges</source>
   <translation>das Einpassen der Kanten</translation>
  </message>
  <message>
   <source>geometry in bulk</source>
   <translation>Geometrie in großer Zahl</translation>
  </message>
  <message>
   <source>unknown</source>
   <translation>unbekannt</translation>
  </message>
  <message>
   <source>{} {}: present</source>
   <translation>{} {}: vorhanden</translation>
  </message>
 </context>
 <context>
  <name>EdgeSigmas</name>
  <message>
   <source>Field “{0}”: edges with an uncertainty of up to {2} m (1-sigma): {1}. Nothing along them can count as displaced. Correct the values.</source>
   <translation>Feld „{0}“: Kanten mit einer Unsicherheit von bis zu {2} m (1 Sigma): {1}. An ihnen kann nichts als verschoben zählen. Die Werte berichtigen.</translation>
  </message>
  <message>
   <source>Field “{}” is 0 in all rows: edges count as free of errors.</source>
   <translation>Feld „{}“ ist in allen Zeilen 0: Die Kanten gelten als fehlerfrei.</translation>
  </message>
  <message>
   <source>Field “{}” says that edges are known to {} m only (1-sigma): displacements up to twice that much do not count. If it is in another unit, bring it into metres.</source>
   <translation>Feld „{}“ gibt an, dass Kanten nur auf {} m genau bekannt sind (1 Sigma): Verschiebungen bis zum Doppelten zählen nicht. Steht es in einer anderen Einheit, in Meter umrechnen.</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}” must hold an uncertainty in metres, 0 or greater, for “{}”, but holds “{}” (rows: {}). Choose another field, correct the values, or leave it empty.</source>
   <translation>Layer „{}“: Feld „{}“ muss eine Unsicherheit in Metern, 0 oder größer, für „{}“ enthalten, enthält aber „{}“ (Zeilen: {}). Ein anderes Feld wählen, die Werte berichtigen oder die Angabe leer lassen.</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}”, chosen in “{}”, has a median of {:.4g}, which cannot be the uncertainty of an edge in metres. Bring it into metres, choose another field, or leave it empty.</source>
   <translation>Layer „{}“: Feld „{}“, gewählt in „{}“, hat den Median {:.4g}, was keine Unsicherheit einer Kante in Metern sein kann. In Meter umrechnen, ein anderes Feld wählen oder leer lassen.</translation>
  </message>
  <message>
   <source>Uncertainty of the edges: field “{}”, median {} m.</source>
   <translation>Unsicherheit der Kanten: Feld „{}“, Median {} m.</translation>
  </message>
  <message>
   <source>Uncertainty of the edges: field “{}”, rows without a value: {}; for these {} m is taken.</source>
   <translation>Unsicherheit der Kanten: Feld „{}“, Zeilen ohne Wert: {}; für diese wird {} m angenommen.</translation>
  </message>
  <message>
   <source>Uncertainty of the edges: no field; only that of the existing lines counts.</source>
   <translation>Unsicherheit der Kanten: kein Feld; nur die der Bestandslinien zählt.</translation>
  </message>
 </context>
 <context>
  <name>EdgeSource</name>
  <message>
   <source>Epochs left out, without position, edge or chainage, or alone on their edge: {}.</source>
   <translation>Weggelassene Epochen, ohne Position, Kante oder Stationierung oder allein auf ihrer Kante: {}.</translation>
  </message>
  <message>
   <source>Epochs: {}, edges: {}; noise across the edge found from the data: {:.1f} mm (1-sigma).</source>
   <translation>Epochen: {}, Kanten: {}; aus den Daten ermitteltes Rauschen quer zur Kante: {:.1f} mm (1 Sigma).</translation>
  </message>
  <message>
   <source>Layer “{}” has no field “{}”, so its epochs cannot be put in order along edges. Use the “Kept epochs” of “Reconstruct edges”, or its edges; fields that tell edges apart may be chosen in “{}”. The layer has: {}.</source>
   <translation>Layer „{}“ hat kein Feld „{}“, daher lassen sich seine Epochen nicht entlang von Kanten ordnen. „Behaltene Epochen“ aus „Kanten rekonstruieren“ oder dessen Kanten verwenden; Felder, die Kanten unterscheiden, lassen sich in „{}“ wählen. Der Layer hat: {}.</translation>
  </message>
  <message>
   <source>Layer “{}” holds neither lines nor points ({}). Choose a layer of edges, or of kept epochs as “Reconstruct edges” writes them, in “{}”.</source>
   <translation>Layer „{}“ enthält weder Linien noch Punkte ({}). Einen Layer mit Kanten oder mit behaltenen Epochen, wie „Kanten rekonstruieren“ sie schreibt, in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}” does not tell the edges apart (it is empty, repeats, or is no whole number), so they are numbered anew.</source>
   <translation>Layer „{}“: Feld „{}“ unterscheidet die Kanten nicht (es ist leer, wiederholt sich oder ist keine ganze Zahl), daher werden sie neu nummeriert.</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}” holds no numbers, but the epochs' order along the edge in metres is needed. Use the “Kept epochs” of “Reconstruct edges”.</source>
   <translation>Layer „{}“: Feld „{}“ enthält keine Zahlen, nötig ist aber die Reihenfolge der Epochen entlang der Kante in Metern. „Behaltene Epochen“ aus „Kanten rekonstruieren“ verwenden.</translation>
  </message>
  <message>
   <source>Layer “{}”: no edge has two epochs with position and chainage, so there is nothing to fit. Use the “Kept epochs” of “Reconstruct edges”.</source>
   <translation>Layer „{}“: Keine Kante hat zwei Epochen mit Position und Stationierung, es gibt also nichts einzupassen. „Behaltene Epochen“ aus „Kanten rekonstruieren“ verwenden.</translation>
  </message>
  <message>
   <source>Layer “{}”: where field “{}” is “{}”, epochs that are neighbours by their chainage lie {:.1f} m farther apart than that: several lines have one name, as in layers that were merged. Choose all fields that tell the edges apart in “{}”.</source>
   <translation>Layer „{}“: Wo Feld „{}“ den Wert „{}“ hat, liegen nach der Stationierung benachbarte Epochen um {:.1f} m weiter auseinander, als diese angibt: Mehrere Linien tragen denselben Namen, wie in zusammengeführten Layern. Alle Felder, die die Kanten unterscheiden, in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Uncertainty of the edges: field “{}”; it counts in addition to the tolerance.</source>
   <translation>Unsicherheit der Kanten: Feld „{}“; sie zählt zusätzlich zur Toleranz.</translation>
  </message>
  <message>
   <source>epoch</source>
   <translation>Epoche</translation>
  </message>
 </context>
 <context>
  <name>EdgeTables</name>
  <message>
   <source>taken back in{}</source>
   <translation>zurückgeholt{}</translation>
  </message>
 </context>
 <context>
  <name>EditBuffer</name>
  <message>
   <source>A layer cannot be changed in place unless it is one of the project, or a file.</source>
   <translation>Ein Layer lässt sich nur dann unmittelbar ändern, wenn er zum Projekt gehört oder eine Datei ist.</translation>
  </message>
  <message>
   <source>Layer “{}” cannot be edited. Save it under another name, or write a copy.</source>
   <translation>Layer „{}“ lässt sich nicht bearbeiten. Unter anderem Namen speichern oder eine Kopie schreiben.</translation>
  </message>
  <message>
   <source>Layer “{}” does not open for editing.</source>
   <translation>Layer „{}“ lässt sich nicht zum Bearbeiten öffnen.</translation>
  </message>
  <message>
   <source>Layer “{}” refused a change; it is as it was.</source>
   <translation>Layer „{}“ hat eine Änderung abgelehnt; er ist unverändert.</translation>
  </message>
  <message>
   <source>The changes to “{}” could not be saved: {}. Look at what is there.</source>
   <translation>Die Änderungen an „{}“ konnten nicht gespeichert werden: {}. Ansehen, was vorhanden ist.</translation>
  </message>
 </context>
 <context>
  <name>EditSaving</name>
  <message>
   <source>The changes to “{}” could not be saved; it is as it was: {}.</source>
   <translation>Die Änderungen an „{}“ konnten nicht gespeichert werden; alles ist unverändert: {}.</translation>
  </message>
  <message>
   <source>a change was refused</source>
   <translation>eine Änderung wurde abgelehnt</translation>
  </message>
  <message>
   <source>no reason was given</source>
   <translation>es wurde kein Grund angegeben</translation>
  </message>
  <message>
   <source>{} of its lines are gone</source>
   <translation>{} seiner Linien sind nicht mehr vorhanden</translation>
  </message>
 </context>
 <context>
  <name>EstimateShift</name>
  <message>
   <source>Estimate shift</source>
   <translation>Versatz schätzen</translation>
  </message>
  <message>
   <source>Estimates by how much one layer of lines as a whole lies off another, and moves it there.

SHIFT_EAST and SHIFT_NORTH are what is added to the input to bring it onto the existing lines, in metres on the ground along the axes of the input's CRS. With “rigid” a rotation (degrees, counter-clockwise) and with “similarity” a scale factor come with it, both about the middle of the lines used, which the log names; the shift then holds at that point. The output is the input moved by all of it, fields and heights unchanged.

Offsets are only seen across a line, so the estimate is a robust least squares on the normals: lines that really moved, up to a third of the length, do not count. Where all lines run one way the component along them cannot be determined: it is reported as undetermined (no number), and the output is moved across the lines only.

Sigmas are 1-sigma and count lines, not stations, as independent. SIGNIFICANT says whether the whole is more than chance at 95 % confidence (F test).</source>
   <translation>Schätzt, um wie viel ein Linienlayer als Ganzes gegen einen anderen versetzt liegt, und verschiebt ihn dorthin.

SHIFT_EAST und SHIFT_NORTH werden zur Eingabe addiert, um sie auf die Bestandslinien zu bringen, in Metern in der Örtlichkeit, entlang der Achsen des KBS der Eingabe. Mit „rigid“ kommt eine Drehung hinzu (Grad, gegen den Uhrzeigersinn), mit „similarity“ auch ein Maßstabsfaktor, beide um die Mitte der verwendeten Linien, die das Protokoll nennt; der Versatz gilt dann in diesem Punkt. Die Ausgabe ist die um all dies verschobene Eingabe, Felder und Höhen unverändert.

Abstände sind nur quer zu einer Linie zu sehen, daher ist die Schätzung eine robuste Ausgleichung nach kleinsten Quadraten über die Normalen: Linien, die wirklich verlegt wurden, bleiben bis zu einem Drittel der Länge ohne Einfluss. Wo alle Linien in einer Richtung verlaufen, ist die Komponente in Längsrichtung nicht bestimmbar: Sie wird als unbestimmt angegeben (ohne Zahl), und die Ausgabe wird nur quer zu den Linien verschoben.

Die Sigmas sind 1 Sigma und behandeln Linien, nicht Stationen, als unabhängig. SIGNIFICANT gibt an, ob das Ganze bei 95 % Vertrauensniveau mehr als Zufall ist (F-Test).</translation>
  </message>
  <message>
   <source>Length used (m)</source>
   <translation>Verwendete Länge (m)</translation>
  </message>
  <message>
   <source>Robust systematic shift, rotation and scale between two line layers, with uncertainty and a test.</source>
   <translation>Robuster systematischer Versatz, Drehung und Maßstab zwischen zwei Linienlayern, mit Unsicherheit und Test.</translation>
  </message>
  <message>
   <source>Rotation, counter-clockwise (degrees)</source>
   <translation>Drehung, gegen den Uhrzeigersinn (Grad)</translation>
  </message>
  <message>
   <source>Scale factor</source>
   <translation>Maßstabsfaktor</translation>
  </message>
  <message>
   <source>Shift across lines that all run one way (m)</source>
   <translation>Versatz quer zu Linien, die alle in einer Richtung verlaufen (m)</translation>
  </message>
  <message>
   <source>Shift east (m)</source>
   <translation>Versatz Ost (m)</translation>
  </message>
  <message>
   <source>Shift north (m)</source>
   <translation>Versatz Nord (m)</translation>
  </message>
  <message>
   <source>Sigma of the rotation (degrees)</source>
   <translation>Sigma der Drehung (Grad)</translation>
  </message>
  <message>
   <source>Sigma of the scale factor</source>
   <translation>Sigma des Maßstabsfaktors</translation>
  </message>
  <message>
   <source>Sigma of the shift across (m)</source>
   <translation>Sigma des Versatzes quer (m)</translation>
  </message>
  <message>
   <source>Sigma of the shift east (m)</source>
   <translation>Sigma des Versatzes Ost (m)</translation>
  </message>
  <message>
   <source>Sigma of the shift north (m)</source>
   <translation>Sigma des Versatzes Nord (m)</translation>
  </message>
  <message>
   <source>Undetermined direction (degrees from north)</source>
   <translation>Richtung ohne Information (Grad von Nord)</translation>
  </message>
  <message>
   <source>shift,datum,offset,translation,rotation,helmert,similarity,rigid,georeference,align,conflation,basemap,curb,kerb,edge,conflate,map update,rubber sheet</source>
   <translation>shift,datum,offset,translation,rotation,helmert,similarity,rigid,georeference,align,conflation,basemap,curb,kerb,edge,conflate,map update,rubber sheet,Versatz,Datum,Bezugssystem,Verschiebung,Drehung,Ähnlichkeitstransformation,Helmert-Transformation,georeferenzieren,ausrichten,Bestandskarte,Bordstein,Kante,Fortführung,Homogenisierung</translation>
  </message>
 </context>
 <context>
  <name>Features</name>
  <message>
   <source>Layer “{}” changed while it was read: {} of its rows are gone. Run again when nobody edits it.</source>
   <translation>Layer „{}“ hat sich während des Lesens geändert: {} seiner Zeilen fehlen nun. Erneut ausführen, wenn niemand ihn bearbeitet.</translation>
  </message>
  <message>
   <source>Layer “{}” gave {} of {} rows and then broke off{}. Look whether its file is whole and its server can be reached, and run again.</source>
   <translation>Layer „{}“ lieferte {} von {} Zeilen und brach dann ab{}. Nachsehen, ob seine Datei vollständig und sein Server erreichbar ist, und erneut ausführen.</translation>
  </message>
 </context>
 <context>
  <name>FieldMapping</name>
  <message>
   <source>Field “{}” of layer “{}” cannot take “{}”, a value of “{}”. Map another field in “{}”.</source>
   <translation>Feld „{}“ des Layers „{}“ kann „{}“, einen Wert von „{}“, nicht aufnehmen. In „{}“ ein anderes Feld zuordnen.</translation>
  </message>
  <message>
   <source>It stays empty in added lines.</source>
   <translation>In hinzugefügten Linien bleibt es leer.</translation>
  </message>
  <message>
   <source>“{}” of “{}” fills field “{}” a second time. Name each once.</source>
   <translation>„{}“ von „{}“ füllt Feld „{}“ ein zweites Mal. Jedes nur einmal nennen.</translation>
  </message>
  <message>
   <source>“{}” of “{}”: layer “{}” has no field “{}”. Write “target: source; …”; its fields are: {}.</source>
   <translation>„{}“ von „{}“: Layer „{}“ hat kein Feld „{}“. „Ziel: Quelle; …“ schreiben; seine Felder sind: {}.</translation>
  </message>
 </context>
 <context>
  <name>FieldWidget</name>
  <message>
   <source>found: {}</source>
   <translation>erkannt: {}</translation>
  </message>
 </context>
 <context>
  <name>Findings</name>
  <message>
   <source> and </source>
   <translation> und </translation>
  </message>
  <message>
   <source> and {:+.3f} m up</source>
   <translation> und {:+.3f} m in der Höhe</translation>
  </message>
  <message>
   <source> by {:+.2f} m</source>
   <translation> um {:+.2f} m</translation>
  </message>
  <message>
   <source> or </source>
   <translation> oder </translation>
  </message>
  <message>
   <source> over {:.2f} m</source>
   <translation> im Abstand von {:.2f} m</translation>
  </message>
  <message>
   <source>, {:.0f} s</source>
   <translation>, {:.0f} s</translation>
  </message>
  <message>
   <source>Edge of {:.1f} m with a poor position ({:.3f} m 1-sigma across): walk it again</source>
   <translation>Kante von {:.1f} m mit schlechter Lage ({:.3f} m, 1 Sigma quer): noch einmal begehen</translation>
  </message>
  <message>
   <source>Edge of {:.1f} m with poor heights ({:.3f} m 1-sigma): walk it again</source>
   <translation>Kante von {:.1f} m mit schlechten Höhen ({:.3f} m, 1 Sigma): noch einmal begehen</translation>
  </message>
  <message>
   <source>Ends left open{}: see how the edges meet{}</source>
   <translation>Enden offen gelassen{}: ansehen, wie die Kanten zusammentreffen{}</translation>
  </message>
  <message>
   <source>Existing line of {:.1f} m displaced{}: see whether it was moved</source>
   <translation>Bestandslinie von {:.1f} m verschoben{}: nachsehen, ob sie verlegt wurde</translation>
  </message>
  <message>
   <source>Gap of {:.1f} m{} ({}): walk it from rim to rim</source>
   <translation>Lücke von {:.1f} m{} ({}): von Rand zu Rand begehen</translation>
  </message>
  <message>
   <source>Layer “{}” ({}) cannot be “{}”, which are {}. Choose what {} writes.</source>
   <translation>Layer „{}“ ({}) kann nicht „{}“ sein: Dafür sind {} nötig. Wählen, was {} schreibt.</translation>
  </message>
  <message>
   <source>Layer “{}” cannot be used: {}.</source>
   <translation>Layer „{}“ kann nicht verwendet werden: {}.</translation>
  </message>
  <message>
   <source>Layer “{}” has no field that looks like a time, so nobody can tell which epochs follow each other. Choose one in “{}”. It has: {}.</source>
   <translation>Layer „{}“ hat kein Feld, das nach einer Zeit aussieht, daher lässt sich nicht sagen, welche Epochen aufeinanderfolgen. Eines in „{}“ wählen. Vorhanden: {}.</translation>
  </message>
  <message>
   <source>Layer “{}” has no field {}, so it cannot be “{}”. Choose what {} writes. It has: {}.</source>
   <translation>Layer „{}“ hat kein Feld {} und kann daher nicht „{}“ sein. Wählen, was {} schreibt. Vorhanden: {}.</translation>
  </message>
  <message>
   <source>Layer “{}” has no field “{}”, so it cannot be “{}”. It has: {}.</source>
   <translation>Layer „{}“ hat kein Feld „{}“ und kann daher nicht „{}“ sein. Vorhanden: {}.</translation>
  </message>
  <message>
   <source>Layer “{}” has none of the fields {}: all of its rows count as “{}”. Check that it is what {} writes.</source>
   <translation>Layer „{}“ hat keines der Felder {}: Alle seine Zeilen zählen als „{}“. Prüfen, ob es das ist, was {} schreibt.</translation>
  </message>
  <message>
   <source>Layer “{}” names rows in “source_id” that “{}” does not have ({} of {}). Choose as “{}” the layer whose walks were merged.</source>
   <translation>Layer „{}“ nennt in „source_id“ Zeilen, die „{}“ nicht hat ({} von {}). Als „{}“ den Layer wählen, dessen Begehungen zusammengeführt wurden.</translation>
  </message>
  <message>
   <source>Layer “{}”: the fields {} could each be the {}. Choose one in “{}”.</source>
   <translation>Layer „{}“: Jedes der Felder {} könnte das gesuchte sein ({}). Eines in „{}“ wählen.</translation>
  </message>
  <message>
   <source>No edge along {:.1f} m of an existing line of {:.1f} m: walk it, or see whether it is gone</source>
   <translation>Keine Kante auf {:.1f} m einer Bestandslinie von {:.1f} m: begehen oder nachsehen, ob sie weggefallen ist</translation>
  </message>
  <message>
   <source>Poor heights over {:.1f} m from chainage {:.1f} m (up to {:.3f} m 1-sigma): walk this stretch again</source>
   <translation>Schlechte Höhen auf {:.1f} m ab Stationierung {:.1f} m (bis zu {:.3f} m, 1 Sigma): diesen Abschnitt noch einmal begehen</translation>
  </message>
  <message>
   <source>Poor position over {:.1f} m from chainage {:.1f} m (up to {:.3f} m 1-sigma across): walk this stretch again</source>
   <translation>Schlechte Lage auf {:.1f} m ab Stationierung {:.1f} m (bis zu {:.3f} m, 1 Sigma quer): diesen Abschnitt noch einmal begehen</translation>
  </message>
  <message>
   <source>The edge broke off at its {} ({}): go on from here</source>
   <translation>Die Kante brach an ihrem {} ab ({}): von hier aus weitergehen</translation>
  </message>
  <message>
   <source>This walk lies {:+.3f} m across{} from the others: check base and antenna height, and walk it once more</source>
   <translation>Diese Begehung liegt {:+.3f} m quer{} von den anderen ab: Basis und Antennenhöhe prüfen und noch einmal begehen</translation>
  </message>
  <message>
   <source>Walks differ over {:.1f} m ({}): walk it once more{}</source>
   <translation>Begehungen unterscheiden sich auf {:.1f} m ({}): noch einmal begehen{}</translation>
  </message>
  <message>
   <source>a jump</source>
   <translation>ein Sprung</translation>
  </message>
  <message>
   <source>a person broke the line</source>
   <translation>eine Person hat die Linie unterbrochen</translation>
  </message>
  <message>
   <source>another capture began</source>
   <translation>eine andere Aufnahme begann</translation>
  </message>
  <message>
   <source>capture</source>
   <translation>Aufnahme</translation>
  </message>
  <message>
   <source>disagreements whose reason is no cause to go back: {}</source>
   <translation>Widersprüche, deren Grund keine Nachbegehung veranlasst: {}</translation>
  </message>
  <message>
   <source>end</source>
   <translation>Ende</translation>
  </message>
  <message>
   <source>ends left open nearer to each other than the limit: {}</source>
   <translation>offen gelassene Enden, die näher beieinanderliegen als der Grenzwert: {}</translation>
  </message>
  <message>
   <source>ends that broke off at gaps, which are judged as gaps: {}</source>
   <translation>an Lücken abgebrochene Enden, die als Lücken beurteilt werden: {}</translation>
  </message>
  <message>
   <source>epochs in rows over less ground than the limit: {}</source>
   <translation>aufeinanderfolgende Epochen auf einer kürzeren Strecke als dem Grenzwert: {}</translation>
  </message>
  <message>
   <source>epochs in rows shorter than the limit: {}</source>
   <translation>Epochen in kürzeren Folgen als dem Grenzwert: {}</translation>
  </message>
  <message>
   <source>epochs rejected at places that were seen (repeat, backtrack): {}</source>
   <translation>verworfene Epochen an Orten, die gesehen wurden (repeat, backtrack): {}</translation>
  </message>
  <message>
   <source>epochs without a time or a position, which are in no row: {}</source>
   <translation>Epochen ohne Zeit oder Position, die in keiner Folge stehen: {}</translation>
  </message>
  <message>
   <source>gaps below the limits: {}</source>
   <translation>Lücken unter den Grenzwerten: {}</translation>
  </message>
  <message>
   <source>gaps whose reason is no cause to go back: {}</source>
   <translation>Lücken, deren Grund keine Nachbegehung veranlasst: {}</translation>
  </message>
  <message>
   <source>lines</source>
   <translation>Linien</translation>
  </message>
  <message>
   <source>lines with less than the minimum length without an edge: {}</source>
   <translation>Linien mit weniger als der Mindestlänge ohne Kante: {}</translation>
  </message>
  <message>
   <source>no fixed solution</source>
   <translation>keine fixierte Lösung</translation>
  </message>
  <message>
   <source>no reason</source>
   <translation>kein Grund</translation>
  </message>
  <message>
   <source>points</source>
   <translation>Punkte</translation>
  </message>
  <message>
   <source>poor accuracy</source>
   <translation>geringe Genauigkeit</translation>
  </message>
  <message>
   <source>reason unknown</source>
   <translation>Grund unbekannt</translation>
  </message>
  <message>
   <source>rows without a position, which would have counted: {}</source>
   <translation>Zeilen ohne Position, die gezählt hätten: {}</translation>
  </message>
  <message>
   <source>spikes</source>
   <translation>Ausreißer</translation>
  </message>
  <message>
   <source>start</source>
   <translation>Anfang</translation>
  </message>
  <message>
   <source>stations over the limit without a chainage: {}</source>
   <translation>Stationen über dem Grenzwert ohne Stationierung: {}</translation>
  </message>
  <message>
   <source>the capture ends</source>
   <translation>die Aufnahme endet</translation>
  </message>
  <message>
   <source>the capture starts</source>
   <translation>die Aufnahme beginnt</translation>
  </message>
  <message>
   <source>the walk paused</source>
   <translation>die Begehung pausierte</translation>
  </message>
  <message>
   <source>the walk turned back</source>
   <translation>die Begehung kehrte um</translation>
  </message>
  <message>
   <source>time</source>
   <translation>Zeit</translation>
  </message>
  <message>
   <source>too few epochs tell how the edge goes on</source>
   <translation>zu wenige Epochen zeigen, wie die Kante weiterläuft</translation>
  </message>
  <message>
   <source>{} epochs rejected in a row, {:.0f} s over {:.1f} m ({}): walk this stretch again</source>
   <translation>{} aufeinanderfolgende verworfene Epochen, {:.0f} s auf {:.1f} m ({}): diesen Abschnitt noch einmal begehen</translation>
  </message>
  <message>
   <source>{}: the fields {} are equally good, so none is taken. Choose one in “{}”.</source>
   <translation>{}: Die Felder {} passen gleich gut, daher wird keines verwendet. Eines in „{}“ wählen.</translation>
  </message>
 </context>
 <context>
  <name>FitAlignments</name>
  <message>
   <source>Curbs are built of tangents, circular arcs and corners. This finds them: as few elements as explain an edge, adjusted together with the joints between them (common direction, or a corner).

Input: edges as lines, each part of a multi-part line by itself; or the “Kept epochs” of “Reconstruct edges”, which tell more, since their noise is found from the data. For lines the tolerance takes the place of the noise; uncertainties then follow it and are rough.

Alignments: CompoundCurveZ in the layer's CRS with true arcs, one feature for each edge or part: part, elements (tangents and arcs, without corners), length, rms_residual and max_residual (of the input from the elements), sigma_cross (1-sigma across: of the fit, and of the edge or the receiver's slow drift where that is known), closed. Attributes of lines are kept; fields with the name of a new one get “_source”. Heights follow the input; where they need a point of their own (a ramp), a tangent or arc is written in two.

Elements: one feature for each tangent, arc and corner in order along its edge. bearing: degrees clockwise from the layer's grid north, of the direction of travel where the element starts (of a corner: of the leg that leaves). deflection: degrees, + to the right, as deflection angles of route surveys and all offsets here are counted; of an arc its central angle. chord: long chord 2R sin(D/2); sagitta: middle ordinate R (1 − cos(D/2)); tangent_length: R tan(D/2); external_distance: R (1/cos(D/2) − 1); the last two are NULL from 180 degrees on. radius_sigma is 1-sigma. A corner has length 0 and is drawn by the first {} m of its two legs. Write it as CSV to have it as a table.

All lengths and radii are metres on the ground. A projected CRS keeps circles round; in degrees they are no circles, and in web Mercator only nearly, so there an arc is written as several that lie within 1 mm of it, and the log says so. To draw, reproject the input to a projected CRS first.

To hand arcs on as DXF, export with “Force 2D output”: the host then writes them as bulges, which stay arcs. With heights it writes 3D polylines, in which other programs show the chord instead of the arc.

The result is of mapping grade: it is no boundary survey, and not for stake-out without a licensed surveyor.</source>
   <translation>Bordsteine bestehen aus Geraden, Kreisbögen und Ecken. Diese werden hier gefunden: so wenige Elemente, wie eine Kante erklären, gemeinsam ausgeglichen mit den Übergängen zwischen ihnen (gemeinsame Richtung oder eine Ecke).

Eingabe: Kanten als Linien, jeder Teil einer mehrteiligen Linie für sich; oder „Behaltene Epochen“ aus „Kanten rekonstruieren“, die mehr aussagen, da ihr Rauschen aus den Daten ermittelt wird. Bei Linien tritt die Toleranz an die Stelle des Rauschens; die Unsicherheiten richten sich dann nach ihr und sind nur grob.

Trassierungen: CompoundCurveZ im KBS des Layers mit echten Kreisbögen, ein Objekt für jede Kante oder jeden Teil: part, elements (Geraden und Kreisbögen, ohne Ecken), length, rms_residual und max_residual (der Eingabe gegen die Elemente), sigma_cross (1 Sigma quer: der Einpassung und, wo bekannt, der Kante oder der langsamen Drift des Empfängers), closed. Attribute von Linien bleiben erhalten; Felder, die wie ein neues heißen, erhalten „_source“. Höhen folgen der Eingabe; wo sie einen eigenen Punkt brauchen (eine Rampe), wird eine Gerade oder ein Kreisbogen in zwei Teilen geschrieben.

Elemente: ein Objekt für jede Gerade, jeden Kreisbogen und jede Ecke in der Reihenfolge entlang ihrer Kante. bearing: Richtungswinkel in Grad im Uhrzeigersinn vom Gitternord des Layers, in Laufrichtung am Anfang des Elements (bei einer Ecke: des abgehenden Schenkels). deflection: Richtungsänderung in Grad, + nach rechts, so gezählt wie Ablenkungswinkel der Trassierung und wie alle Querabstände hier; bei einem Kreisbogen sein Zentriwinkel. chord: Sehne 2R sin(D/2); sagitta: Pfeilhöhe R (1 − cos(D/2)); tangent_length: Tangentenlänge R tan(D/2); external_distance: Scheitelabstand R (1/cos(D/2) − 1); die beiden letzten sind ab 180 Grad NULL. radius_sigma ist 1 Sigma. Eine Ecke hat die Länge 0 und wird durch die ersten {} m ihrer beiden Schenkel gezeichnet. Als CSV geschrieben, ergibt dies eine Tabelle.

Alle Längen und Radien sind Meter in der Örtlichkeit. In einem projizierten KBS bleiben Kreise rund; in Grad sind sie keine Kreise und in Web-Mercator nur annähernd, daher wird ein Kreisbogen dort in mehreren Stücken geschrieben, die höchstens 1 mm von ihm abweichen, und das Protokoll weist darauf hin. Zum Zeichnen die Eingabe zuerst in ein projiziertes KBS transformieren.

Um Kreisbögen als DXF weiterzugeben, mit „2D-Ausgabe erzwingen“ exportieren: QGIS schreibt sie dann als Bulge-Werte, und sie bleiben Kreisbögen. Mit Höhen schreibt es 3D-Polylinien, in denen andere Programme statt des Kreisbogens die Sehne zeigen.

Das Ergebnis hat Kartiergenauigkeit: Es ist keine Grenzvermessung und ohne befugte Vermessungsstelle nicht zur Absteckung geeignet.</translation>
  </message>
  <message>
   <source>Edges as tangents, circular arcs and corners, with radii, their uncertainty and the parts of each curve.</source>
   <translation>Kanten als Geraden, Kreisbögen und Ecken, mit Radien, deren Unsicherheit und den Bestimmungsstücken jedes Bogens.</translation>
  </message>
  <message>
   <source>Fit tangents and arcs</source>
   <translation>Geraden und Kreisbögen einpassen</translation>
  </message>
  <message>
   <source>alignment,tangent,arc,curve,circle,radius,fit,curb return,kerb,corner,deflection,chord,sagitta,bearing,compound curve,cad,dxf,vectorise,vectorize,as-built,kerbline</source>
   <translation>alignment,tangent,arc,curve,circle,radius,fit,curb return,kerb,corner,deflection,chord,sagitta,bearing,compound curve,cad,dxf,vectorise,vectorize,as-built,kerbline,Trassierung,Achse,Gerade,Kreisbogen,Bogen,Kreis,Radius,einpassen,Ausrundung,Bordstein,Ecke,Knick,Richtungsänderung,Sehne,Pfeilhöhe,Richtungswinkel,vektorisieren,Bestandsaufnahme</translation>
  </message>
 </context>
 <context>
  <name>FormerBasemap</name>
  <message>
   <source>Changes taken back: {}.</source>
   <translation>Zurückgenommene Änderungen: {}.</translation>
  </message>
  <message>
   <source>Changes that find no line in “{1}” that is as they left it: {0}. These lines stay as they are.</source>
   <translation>Änderungen, die in „{1}“ keine Linie finden, die noch so ist, wie sie sie hinterließen: {0}. Diese Linien bleiben, wie sie sind.</translation>
  </message>
  <message>
   <source>Lines of “{1}” that an update changed, and of which “{2}” has no change: {0}. They stay as they are. Give the whole table of changes to get all of the former layer.</source>
   <translation>Linien von „{1}“, die durch eine Fortführung geändert wurden und von denen „{2}“ keine Änderung enthält: {0}. Sie bleiben, wie sie sind. Für den ganzen früheren Layer die ganze Tabelle der Änderungen angeben.</translation>
  </message>
  <message>
   <source>“{}” (“{}”) holds no change, so there is nothing to take back.</source>
   <translation>„{}“ („{}“) enthält keine Änderung, also nichts zum Zurücknehmen.</translation>
  </message>
  <message>
   <source>“{}” (“{}”): field “undo” of row {} does not say what was there before, so nothing is taken back. Give the table of changes as the update wrote it.</source>
   <translation>„{}“ („{}“): Feld „undo“ der Zeile {} sagt nicht, was vorher da war; es wird nichts zurückgenommen. Die Tabelle der Änderungen so angeben, wie die Fortführung sie geschrieben hat.</translation>
  </message>
  <message>
   <source>“{}” is no table of changes: it has no field “{}”.</source>
   <translation>„{}“ ist keine Tabelle der Änderungen: Es fehlt das Feld „{}“.</translation>
  </message>
 </context>
 <context>
  <name>Frames</name>
  <message>
   <source>Heights: the layer's CRS says nothing about their unit; they are taken as metres.</source>
   <translation>Höhen: Das KBS des Layers sagt nichts über ihre Einheit; sie gelten als Meter.</translation>
  </message>
  <message>
   <source>Heights: {:.7g} m to a unit, as the layer's CRS says; they are written in that unit.</source>
   <translation>Höhen: {:.7g} m je Einheit, wie das KBS des Layers angibt; sie werden in dieser Einheit geschrieben.</translation>
  </message>
  <message>
   <source>The CRS “{}” is a plane without a datum: its coordinates are taken as they are.</source>
   <translation>Das KBS „{}“ ist eine Ebene ohne Datum: Seine Koordinaten werden verwendet, wie sie sind.</translation>
  </message>
  <message>
   <source>The layer has no CRS: its coordinates are taken as plane metres.</source>
   <translation>Der Layer hat kein KBS: Seine Koordinaten gelten als ebene Meter.</translation>
  </message>
  <message>
   <source>The working CRS “{}” is on another datum than the layer; the edges come back to the layer's own.</source>
   <translation>Das Arbeits-KBS „{}“ hat ein anderes Datum als der Layer; die Kanten werden in dessen eigenes KBS zurückgeführt.</translation>
  </message>
  <message>
   <source>it has no CRS and its coordinates look like degrees. Assign its CRS (Layer Properties, Source), for example EPSG:4326</source>
   <translation>das KBS fehlt, und die Koordinaten sehen nach Grad aus. Das KBS zuweisen (Layereigenschaften, Quelle), zum Beispiel EPSG:4326</translation>
  </message>
  <message>
   <source>it has no CRS, so it cannot be brought into the working CRS. Assign its CRS (Layer Properties, Source)</source>
   <translation>das KBS fehlt, daher ist keine Transformation in das Arbeits-KBS möglich. Das KBS zuweisen (Layereigenschaften, Quelle)</translation>
  </message>
  <message>
   <source>its CRS “{}” cannot be understood by PROJ</source>
   <translation>das KBS „{}“ wird von PROJ nicht verstanden</translation>
  </message>
  <message>
   <source>its CRS “{}” has no datum, so it cannot be brought into the working CRS. Leave that empty</source>
   <translation>das KBS „{}“ hat kein Datum, daher ist keine Transformation in das Arbeits-KBS möglich. Das Arbeits-KBS leer lassen</translation>
  </message>
  <message>
   <source>its CRS “{}” is geocentric. Reproject it to a geographic or projected CRS first</source>
   <translation>das KBS „{}“ ist geozentrisch. Zuerst in ein geographisches oder projiziertes KBS transformieren</translation>
  </message>
  <message>
   <source>no local frame could be made on the datum of its CRS “{}”</source>
   <translation>auf dem Datum des KBS „{}“ ließ sich kein örtliches Koordinatensystem bilden</translation>
  </message>
  <message>
   <source>the working CRS “{}” is not a projected CRS in metres. Choose one, or leave it empty</source>
   <translation>das Arbeits-KBS „{}“ ist kein projiziertes KBS in Metern. Eines wählen oder die Angabe leer lassen</translation>
  </message>
 </context>
 <context>
  <name>Gathering</name>
  <message>
   <source>A line has no place in {}. Choose another CRS for the results.</source>
   <translation>Eine Linie hat keinen Ort in {}. Ein anderes KBS für die Ergebnisse wählen.</translation>
  </message>
  <message>
   <source>The edges cannot be handed on: {}.</source>
   <translation>Die Kanten lassen sich nicht weitergeben: {}.</translation>
  </message>
  <message>
   <source>The layer “{}” cannot be written: {}.</source>
   <translation>Der Layer „{}“ kann nicht geschrieben werden: {}.</translation>
  </message>
  <message>
   <source>“{}” could not be prepared.</source>
   <translation>„{}“ ließ sich nicht vorbereiten.</translation>
  </message>
 </context>
 <context>
  <name>Groups</name>
  <message>
   <source>Comparison</source>
   <translation>Vergleich</translation>
  </message>
  <message>
   <source>Epochs to edges</source>
   <translation>Von Epochen zu Kanten</translation>
  </message>
  <message>
   <source>Linework</source>
   <translation>Linien</translation>
  </message>
 </context>
 <context>
  <name>Intake</name>
  <message>
   <source>    Passed over: “{}” ({}).</source>
   <translation>    Übergangen: „{}“ ({}).</translation>
  </message>
  <message>
   <source>Intake “{}”: layers {}, files {}.</source>
   <translation>Eingang „{}“: Layer {}, Dateien {}.</translation>
  </message>
  <message>
   <source>Layer “{}” is given more than once; it is taken once.</source>
   <translation>Layer „{}“ ist mehrfach angegeben; er wird einmal verwendet.</translation>
  </message>
  <message>
   <source>a table without geometry</source>
   <translation>eine Tabelle ohne Geometrie</translation>
  </message>
  <message>
   <source>neither points nor lines</source>
   <translation>weder Punkte noch Linien</translation>
  </message>
  <message>
   <source>no vector layer</source>
   <translation>kein Vektorlayer</translation>
  </message>
  <message>
   <source>no vector layer; logs of a receiver are read with “Read NMEA log” first</source>
   <translation>kein Vektorlayer; Protokolle eines Empfängers zuerst mit „NMEA-Protokoll lesen“ einlesen</translation>
  </message>
  <message>
   <source>of a GPX file the track points are taken</source>
   <translation>von einer GPX-Datei werden die Trackpunkte verwendet</translation>
  </message>
  <message>
   <source>results of a run</source>
   <translation>Ergebnisse eines Laufs</translation>
  </message>
  <message>
   <source>used as “{}”</source>
   <translation>verwendet als „{}“</translation>
  </message>
  <message>
   <source>“{}” is no folder, no file and no file pattern. Check the path.</source>
   <translation>„{}“ ist weder Ordner noch Datei noch Dateimuster. Den Pfad prüfen.</translation>
  </message>
 </context>
 <context>
  <name>JoinEdges</name>
  <message>
   <source>Ends that belong together joined or extended to their corner, rings closed, every change listed.</source>
   <translation>Zusammengehörige Enden verbunden oder bis zu ihrer Ecke verlängert, Ringe geschlossen, jede Änderung aufgeführt.</translation>
  </message>
  <message>
   <source>Join edge ends</source>
   <translation>Kantenenden verbinden</translation>
  </message>
  <message>
   <source>Joins the ends of edges that belong together. Two ends nearer than the tolerance meet in a point between them; two tangents that meet within the maximum extension are extended to their corner; an edge that comes back to its start is closed (first vertex = last vertex). Everything is measured in metres on the ground, whatever the layer's CRS, and the order of the rows does not matter.

An end joins one other end at most: the one that is the best for both by distance, direction and height, and clearly better than any other (half as far again and 3 cm more). Where that is not clear, as with three ends of a junction, all stay open, and the changes say so. Nothing is joined that runs back on itself (over 150 degrees), whose heights differ too much, or with another edge in between. An edge that overlaps its continuation is left as it is: merge repeat passes first.

Why the ends are moved and no connecting piece is put in between: two captures of one end differ by their noise, and a connecting piece would make a jog of it. The meeting point lies between the ends by their uncertainty (sigma_cross², where both edges have one; in the middle otherwise). What an end has to shift aside is spread over as many metres of its edge as keep each kink within 2 degrees, beyond the difference in direction that the ends have, and a step in height over as many as keep the change of grade within 2 %; on short edges over no more than 45 % of their length, so there a kink can be greater. All other vertices stay as they were read, to the last digit.

A tangent is estimated over the last 3 m as far as they are straight, or curve evenly; the last vertices, which may lie centimetres apart, do not count. Of a curved end the extension is limited to where the tangent leaves the curve by 5 cm, and no edge is extended by more than its own length. Heights go on with the grade of the last metres.

Joined edges: LineStringZ with parts (number of edges in it), sources (which ones, in order), reversed (which of them were turned round; the direction is that of the greater length), moved (m, the maximum move of an end), length (m on the ground), sigma_cross and sigma_up (root of the mean square by length), closed, start_reason and end_reason. Every edge is in exactly one of them. Further fields are kept where all parts have the same value, and are empty otherwise; fields with the name of a new one get “_source”.

Changes: a point for each join: what (joined, extended, closed), the edges and their ends, gap before, deflection (degrees), moved and moved_up (m), and why in words; and for each end that was left open though another edge is near (left_open).

A join is a guess about what nobody captured: look at the changes. The result is of mapping grade: it is no boundary survey, and not for stake-out without a licensed surveyor.</source>
   <translation>Verbindet zusammengehörige Kantenenden. Zwei Enden, die näher beieinanderliegen als die Toleranz, treffen sich in einem Punkt dazwischen; zwei Geraden, die sich innerhalb der größten Verlängerung schneiden, werden bis zu ihrer Ecke verlängert; eine Kante, die zu ihrem Anfang zurückkehrt, wird geschlossen (erster Stützpunkt = letzter Stützpunkt). Alles wird in Metern in der Örtlichkeit gemessen, unabhängig vom KBS des Layers, und die Reihenfolge der Zeilen hat keinen Einfluss.

Ein Ende wird mit höchstens einem anderen verbunden: mit dem, das für beide nach Abstand, Richtung und Höhe das beste ist und deutlich besser als jedes andere (das nächste um die Hälfte weiter und zusätzlich 3 cm). Wo das nicht klar ist, wie bei drei Enden einer Einmündung, bleiben alle offen, und die Änderungen nennen es. Nicht verbunden wird, was in sich zurückläuft (über 150 Grad), was sich in der Höhe zu stark unterscheidet oder wozwischen eine andere Kante liegt. Eine Kante, die ihre Fortsetzung überlappt, bleibt, wie sie ist: zuerst wiederholte Durchgänge zusammenführen.

Warum die Enden verschoben werden und kein Verbindungsstück eingefügt wird: Zwei Aufnahmen eines Endes unterscheiden sich um ihr Rauschen, und ein Verbindungsstück würde daraus einen Versprung machen. Der Treffpunkt liegt nach ihrer Unsicherheit zwischen den Enden (sigma_cross², wo beide Kanten es haben; sonst in der Mitte). Was ein Ende zur Seite rücken muss, wird auf so viele Meter seiner Kante verteilt, dass jeder Knick innerhalb von 2 Grad bleibt, über den Richtungsunterschied der Enden hinaus, und ein Höhensprung auf so viele, dass die Neigungsänderung innerhalb von 2 % bleibt; bei kurzen Kanten auf höchstens 45 % ihrer Länge, sodass ein Knick dort größer sein kann. Alle anderen Stützpunkte bleiben bis zur letzten Stelle, wie sie gelesen wurden.

Eine Gerade wird über die letzten 3 m geschätzt, soweit diese gerade sind oder sich gleichmäßig krümmen; die letzten Stützpunkte, die Zentimeter auseinanderliegen können, entscheiden nicht. Bei einem gekrümmten Ende ist die Verlängerung darauf begrenzt, dass die Tangente die Kurve um 5 cm verlässt, und keine Kante wird um mehr als ihre eigene Länge verlängert. Höhen laufen mit der Neigung der letzten Meter weiter.

Verbundene Kanten: LineStringZ mit parts (Anzahl der Kanten darin), sources (welche, der Reihe nach), reversed (welche davon umgedreht wurden; es gilt die Richtung der größeren Länge), moved (m, die größte Verschiebung eines Endes), length (m in der Örtlichkeit), sigma_cross und sigma_up (quadratisches Mittel nach Länge), closed, start_reason und end_reason. Jede Kante ist in genau einer davon. Weitere Felder bleiben, wo alle Teile denselben Wert haben, und sind sonst leer; Felder, die wie ein neues heißen, erhalten „_source“.

Änderungen: ein Punkt für jede Verbindung: what (joined, extended, closed), die Kanten und ihre Enden, die Lücke davor, deflection (Grad), moved und moved_up (m) und der Grund in Worten; ebenso für jedes Ende, das offen gelassen wurde, obwohl eine andere Kante nahe ist (left_open).

Eine Verbindung ist eine Vermutung über etwas, das niemand aufgenommen hat: die Änderungen ansehen. Das Ergebnis hat Kartiergenauigkeit: Es ist keine Grenzvermessung und ohne befugte Vermessungsstelle nicht zur Absteckung geeignet.</translation>
  </message>
  <message>
   <source>join,snap,connect,extend,close,ring,island,corner,end,edge,curb,kerb,polygon,linework,clean,gap,gps line cleaning,kerbline</source>
   <translation>join,snap,connect,extend,close,ring,island,corner,end,edge,curb,kerb,polygon,linework,clean,gap,gps line cleaning,kerbline,verbinden,fangen,verlängern,schließen,Ring,Insel,Verkehrsinsel,Ecke,Ende,Kante,Bordstein,Polygon,Linien,bereinigen,Lücke,GPS-Linie bereinigen,Bordlinie</translation>
  </message>
 </context>
 <context>
  <name>JoinedTables</name>
  <message>
   <source>, in height by {:.3f} m</source>
   <translation>, in der Höhe um {:.3f} m</translation>
  </message>
  <message>
   <source>T junction: {0} is near {1}, which fits {2} better and is joined with it</source>
   <translation>T-Einmündung: {0} liegt nahe {1}; dieses Ende passt besser zu {2} und wird damit verbunden</translation>
  </message>
  <message>
   <source>end</source>
   <translation>Ende</translation>
  </message>
  <message>
   <source>ends {:.3f} m apart, within the tolerance, deflection {:.0f} degrees; moved by {:.3f} m at most</source>
   <translation>Enden {:.3f} m auseinander, innerhalb der Toleranz, Richtungsänderung {:.0f} Grad; höchstens um {:.3f} m verschoben</translation>
  </message>
  <message>
   <source>junction: {} could each go with more than one of the others</source>
   <translation>Einmündung: {} könnten jeweils zu mehr als einem der anderen passen</translation>
  </message>
  <message>
   <source>ring closed: </source>
   <translation>Ring geschlossen: </translation>
  </message>
  <message>
   <source>start</source>
   <translation>Anfang</translation>
  </message>
  <message>
   <source>tangents {:.3f} m apart meet in a corner of {:.0f} degrees; moved by {:.3f} m at most</source>
   <translation>Geraden, {:.3f} m auseinander, schneiden sich in einer Ecke von {:.0f} Grad; höchstens um {:.3f} m verschoben</translation>
  </message>
  <message>
   <source>{0} and {1} are {3:.3f} m apart, but one runs back along the other: a repeat pass?</source>
   <translation>{0} und {1} liegen {3:.3f} m auseinander, aber die eine Kante läuft an der anderen zurück: ein wiederholter Durchgang?</translation>
  </message>
  <message>
   <source>{0} and {1} go straight on, but {3:.3f} m apart: farther than the tolerance</source>
   <translation>{0} und {1} laufen geradeaus weiter, aber {3:.3f} m auseinander: weiter als die Toleranz</translation>
  </message>
  <message>
   <source>{0} and {1} run {3:.3f} m next to each other: merge repeat passes first</source>
   <translation>{0} und {1} verlaufen über {3:.3f} m nebeneinander: zuerst wiederholte Durchgänge zusammenführen</translation>
  </message>
  <message>
   <source>{0} and {1} would be joined, but edge {4} lies between them</source>
   <translation>{0} und {1} würden verbunden, aber Kante {4} liegt dazwischen</translation>
  </message>
  <message>
   <source>{0} and {1} would be joined, but one of them broke off for a reason that is to be kept</source>
   <translation>{0} und {1} würden verbunden, aber eines der beiden Enden brach aus einem Grund ab, der zu erhalten ist</translation>
  </message>
  <message>
   <source>{0} and {1} would be joined, but the fields that must agree differ</source>
   <translation>{0} und {1} würden verbunden, aber die Felder, die übereinstimmen müssen, unterscheiden sich</translation>
  </message>
  <message>
   <source>{0} and {1} would be joined, but their heights differ too much</source>
   <translation>{0} und {1} würden verbunden, aber ihre Höhen unterscheiden sich zu stark</translation>
  </message>
  <message>
   <source>{0} and {1} would close a ring, which is not asked for</source>
   <translation>{0} und {1} würden einen Ring schließen, was nicht gewünscht ist</translation>
  </message>
  <message>
   <source>{0} lies {3:.3f} m from edge {4}, between its ends: a T junction, or one walk next to another</source>
   <translation>{0} liegt {3:.3f} m von Kante {4}, zwischen deren Enden: eine T-Einmündung oder eine Begehung neben einer anderen</translation>
  </message>
 </context>
 <context>
  <name>KeptEpochs</name>
  <message>
   <source>The kept epochs of “{}” cannot be taken over: {}.</source>
   <translation>Die behaltenen Epochen von „{}“ können nicht übernommen werden: {}.</translation>
  </message>
 </context>
 <context>
  <name>LayerFrame</name>
  <message>
   <source>Field “{}” holds values up to {:.4g}, which cannot be the uncertainty of an edge in metres: it is not used. If it is in another unit, bring it into metres.</source>
   <translation>Feld „{}“ enthält Werte bis {:.4g}, was keine Unsicherheit einer Kante in Metern sein kann: Es wird nicht verwendet. Falls es in einer anderen Einheit ist, in Meter umrechnen.</translation>
  </message>
  <message>
   <source>Field “{}”: values that cannot be the uncertainty of an edge in metres: {}, for example {:.4g}. For these the median of the others, {:.4g} m, is taken.</source>
   <translation>Feld „{}“: Werte, die keine Unsicherheit einer Kante in Metern sein können: {}, zum Beispiel {:.4g}. Für diese wird der Median der übrigen, {:.4g} m, verwendet.</translation>
  </message>
  <message>
   <source>Layer “{}” cannot be brought from {} to {}. Reproject it first.</source>
   <translation>Layer „{}“ lässt sich nicht von {} nach {} bringen. Zuerst transformieren.</translation>
  </message>
  <message>
   <source>Layer “{}” cannot be used: {}.</source>
   <translation>Layer „{}“ kann nicht verwendet werden: {}.</translation>
  </message>
  <message>
   <source>Layer “{}” has no CRS but layer “{}” has one, so they cannot be brought together. Assign the CRS of “{}” (Layer Properties, Source).</source>
   <translation>Layer „{}“ hat kein KBS, Layer „{}“ aber hat eines, daher lassen sie sich nicht zusammenbringen. Das KBS von „{}“ zuweisen (Layereigenschaften, Quelle).</translation>
  </message>
  <message>
   <source>Layer “{}” has no field “{}” (parameter “{}”). It has: {}.</source>
   <translation>Layer „{}“ hat kein Feld „{}“ (Parameter „{}“). Vorhanden: {}.</translation>
  </message>
  <message>
   <source>Layer “{}” holds {} ({}). Choose another layer in “{}”.</source>
   <translation>Layer „{}“ enthält {} ({}). In „{}“ einen anderen Layer wählen.</translation>
  </message>
  <message>
   <source>Layer “{}” is empty: there is no {} to read. If a filter or “selected features only” is set, check it.</source>
   <translation>Layer „{}“ ist leer: Er enthält kein lesbares Objekt ({}). Falls ein Filter oder „Nur gewählte Objekte“ gesetzt ist, dies prüfen.</translation>
  </message>
  <message>
   <source>Layer “{}”: no row holds a line with a length. Check its geometry, or choose another layer.</source>
   <translation>Layer „{}“: Keine Zeile enthält eine Linie mit einer Länge. Seine Geometrie prüfen oder einen anderen Layer wählen.</translation>
  </message>
  <message>
   <source>Layer “{}”: rows left out, with no geometry, or no length: {}.</source>
   <translation>Layer „{}“: weggelassene Zeilen, ohne Geometrie oder ohne Länge: {}.</translation>
  </message>
  <message>
   <source>Layer “{}”: vertices left out, with no position, or one outside the range of the CRS: {}.</source>
   <translation>Layer „{}“: weggelassene Stützpunkte, ohne Position oder mit einer außerhalb des Bereichs des KBS: {}.</translation>
  </message>
  <message>
   <source>edge</source>
   <translation>Kante</translation>
  </message>
  <message>
   <source>neither lines nor points</source>
   <translation>weder Linien noch Punkte</translation>
  </message>
  <message>
   <source>no fields at all</source>
   <translation>gar keine Felder</translation>
  </message>
  <message>
   <source>no lines</source>
   <translation>keine Linien</translation>
  </message>
  <message>
   <source>no points</source>
   <translation>keine Punkte</translation>
  </message>
 </context>
 <context>
  <name>Layers</name>
  <message>
   <source>    Taken as fixed: {}</source>
   <translation>    Gilt als fixiert: {}</translation>
  </message>
  <message>
   <source>    Taken as not fixed: {}</source>
   <translation>    Gilt als nicht fixiert: {}</translation>
  </message>
  <message>
   <source>    beside {}, as in solution files of post-processing: there {} means fixed</source>
   <translation>    neben {}, wie in Lösungsdateien der Nachprozessierung: dort bedeutet {} fixiert</translation>
  </message>
  <message>
   <source> and </source>
   <translation> und </translation>
  </message>
  <message>
   <source> or </source>
   <translation> oder </translation>
  </message>
  <message>
   <source>Capture: each line is one.</source>
   <translation>Aufnahme: jede Linie ist eine.</translation>
  </message>
  <message>
   <source>Capture: no field found; the layer is taken as one capture and broken by time and distance.</source>
   <translation>Aufnahme: kein Feld gefunden; der Layer gilt als eine einzige Aufnahme, unterbrochen nach Zeit und Abstand.</translation>
  </message>
  <message>
   <source>Epochs with coordinates that are infinite or outside the range of the layer's CRS: {}. They count as having no position.</source>
   <translation>Epochen mit Koordinaten, die unendlich sind oder außerhalb des Bereichs des KBS des Layers liegen: {}. Sie gelten als ohne Position.</translation>
  </message>
  <message>
   <source>Field “{}” has a name of captures, but differs in almost every row, as numbers of epochs do: it is not taken. If it does tell one walk from another, choose it in “{}”.</source>
   <translation>Feld „{}“ heißt wie die Aufnahme, unterscheidet sich aber in fast jeder Zeile, wie es Nummern von Epochen tun: Es wird nicht verwendet. Falls es doch eine Begehung von der anderen unterscheidet, es in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Field “{}” has a name of the {}, but most of its values cannot be it, for example {}: it is not taken. If it is, correct the values and choose it in “{}”.</source>
   <translation>Feld „{}“ wäre dem Namen nach das gesuchte ({}), aber die meisten seiner Werte passen nicht dazu, zum Beispiel {}: Es wird nicht verwendet. Falls es doch das richtige ist, die Werte berichtigen und es in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Field “{}” holds no accuracy in any row, for example “{}”: it is not used. Choose another one in “{}” if there is one.</source>
   <translation>Feld „{}“ enthält in keiner Zeile eine Genauigkeit, zum Beispiel „{}“: Es wird nicht verwendet. In „{}“ ein anderes wählen, falls es eines gibt.</translation>
  </message>
  <message>
   <source>Field “{}” holds values that are not known as a state of the solution: {}. These epochs are taken as not fixed. If such a value means a fixed solution, list all values that do in “{}”.</source>
   <translation>Feld „{}“ enthält Werte, die als Zustand der Lösung nicht bekannt sind: {}. Diese Epochen gelten als nicht fixiert. Falls ein solcher Wert eine fixierte Lösung bedeutet, alle Werte mit dieser Bedeutung in „{}“ angeben.</translation>
  </message>
  <message>
   <source>Field “{}” is empty in all rows: all epochs are taken as fixed.</source>
   <translation>Feld „{}“ ist in allen Zeilen leer: Alle Epochen gelten als fix.</translation>
  </message>
  <message>
   <source>Field “{}” was taken as the fix by its values alone, and all that were looked at mean fixed: {}. If it says something else, float and single positions count as fixed too. Choose the field in “{}” if there is another one.</source>
   <translation>Feld „{}“ wurde allein wegen seiner Werte als Fix genommen, und alle gelesenen bedeuten fix: {}. Wenn es etwas anderes besagt, gelten auch Float- und Einzelpositionen als fix. Wählen Sie das Feld in „{}“, wenn es ein anderes gibt.</translation>
  </message>
  <message>
   <source>Field “{}”: read in {}, as its name says, half of its accuracies are {:.2g} mm or less, which is too good to be true. If they are in metres, take the unit out of its name; else the edges seem more certain than they are.</source>
   <translation>Feld „{}“: in {} gelesen, wie sein Name sagt, beträgt die Hälfte seiner Genauigkeiten {:.2g} mm oder weniger, was zu gut ist, um wahr zu sein. Wenn sie in Metern sind, nehmen Sie die Einheit aus dem Namen; sonst erscheinen die Kanten sicherer, als sie sind.</translation>
  </message>
  <message>
   <source>Field “{}”: rows that hold what can be no accuracy in metres: {}, for example “{}”; {}.</source>
   <translation>Feld „{}“: Zeilen, die etwas enthalten, das keine Genauigkeit in Metern sein kann: {}, zum Beispiel „{}“; {}.</translation>
  </message>
  <message>
   <source>Horizontal accuracy: no field found; epochs are not screened by it.</source>
   <translation>Lagegenauigkeit: kein Feld gefunden; die Epochen werden nicht danach geprüft.</translation>
  </message>
  <message>
   <source>Layer “{}” has no field that looks like a time. Choose one in “{}”; it may be a date-time, ISO 8601 text, or seconds or milliseconds as a number. The layer has: {}.</source>
   <translation>Layer „{}“ hat kein Feld, das nach einer Zeit aussieht. Eines in „{}“ wählen; es kann ein Zeitstempel sein, Text nach ISO 8601 oder Sekunden oder Millisekunden als Zahl. Der Layer hat: {}.</translation>
  </message>
  <message>
   <source>Layer “{}” has no point geometry, so there is no position to read (it holds: {}). If the coordinates stand in fields, make points of them first with “Create points layer from table”.</source>
   <translation>Layer „{}“ hat keine Punktgeometrie, also keine lesbare Position (er enthält: {}). Falls die Koordinaten in Feldern stehen, daraus zuerst mit „Punktlayer aus Tabelle erzeugen“ Punkte machen.</translation>
  </message>
  <message>
   <source>Layer “{}” holds lines: field “{}” would give one time to all vertices of a line. Leave “{}” empty; the M values are taken as time.</source>
   <translation>Layer „{}“ enthält Linien: Feld „{}“ gäbe allen Stützpunkten einer Linie dieselbe Zeit. „{}“ leer lassen; als Zeit gelten die M-Werte.</translation>
  </message>
  <message>
   <source>Layer “{}”: dates in field “{}”, for example “{}”, may have the day or the month first, and no row tells which. Bring them into the form 2026-05-04T10:00:00Z, or choose another field in “{}”.</source>
   <translation>Layer „{}“: Datumsangaben in Feld „{}“, zum Beispiel „{}“, können mit dem Tag oder dem Monat beginnen, und keine Zeile zeigt, was gilt. In die Form 2026-05-04T10:00:00Z bringen oder ein anderes Feld in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}” has a name of the state of the solution, but most of its values are not known, for example {}. Say in “{}” which values mean a fixed solution, or choose another field in “{}”.</source>
   <translation>Layer „{}“: Feld „{}“ heißt wie der Zustand der Lösung, die meisten seiner Werte sind aber nicht bekannt, zum Beispiel {}. In „{}“ angeben, welche Werte eine fixierte Lösung bedeuten, oder ein anderes Feld in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}” holds dates without a time of day (a Shapefile keeps no other date-times), so epochs cannot be put in order. Choose a field with the time in “{}”, or save the layer as a GeoPackage, or its times as text or numbers.</source>
   <translation>Layer „{}“: Feld „{}“ enthält Datumsangaben ohne Uhrzeit (ein Shapefile speichert keine anderen Zeitstempel), daher lassen sich die Epochen nicht ordnen. In „{}“ ein Feld mit der Uhrzeit wählen oder den Layer als GeoPackage oder seine Zeiten als Text oder Zahlen speichern.</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}” holds no time in any row. Choose the field that does in “{}”.</source>
   <translation>Layer „{}“: Feld „{}“ enthält in keiner Zeile eine Zeit. Das Feld mit der Zeit in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Layer “{}”: field “{}” holds text where “{}” needs a number in metres, for example “{}” (rows: {}). Choose a numeric field, correct the values, or leave it empty.</source>
   <translation>Layer „{}“: Feld „{}“ enthält Text, wo „{}“ eine Zahl in Metern braucht, zum Beispiel „{}“ (Zeilen: {}). Ein Zahlenfeld wählen, die Werte berichtigen oder die Angabe leer lassen.</translation>
  </message>
  <message>
   <source>Layer “{}”: no time in field “{}” can be read, for example “{}”. Choose another field in “{}”, or bring the values into the form 2026-05-04T10:00:00Z, or seconds since 1970.</source>
   <translation>Layer „{}“: In Feld „{}“ ist keine Zeit lesbar, zum Beispiel „{}“. Ein anderes Feld in „{}“ wählen oder die Werte in die Form 2026-05-04T10:00:00Z bringen oder in Sekunden seit 1970.</translation>
  </message>
  <message>
   <source>Layer “{}”: the fields {} could each be the {}. Choose one in “{}”.</source>
   <translation>Layer „{}“: Jedes der Felder {} könnte das gesuchte sein ({}). Eines in „{}“ wählen.</translation>
  </message>
  <message>
   <source>Layer “{}”: “{}” names {}, but no field is known to say whether an epoch is fixed. Choose the field in “{}”; {}.</source>
   <translation>Layer „{}“: „{}“ nennt {}, es ist aber kein Feld bekannt, das angibt, ob eine Epoche fixiert ist. Das Feld in „{}“ wählen; {}.</translation>
  </message>
  <message>
   <source>Lines are read vertex by vertex.</source>
   <translation>Linien werden Stützpunkt für Stützpunkt gelesen.</translation>
  </message>
  <message>
   <source>Lines that begin where and when another one ended go on with it as one walk: {}. To keep them apart, choose a field in “{}” that has another value in each.</source>
   <translation>Linien, die dort und dann beginnen, wo und wann eine andere endete, setzen diese als eine Begehung fort: {}. Um sie getrennt zu halten, in „{}“ ein Feld wählen, das in jeder einen anderen Wert hat.</translation>
  </message>
  <message>
   <source>Lines without a geometry, so without vertices to read: {}.</source>
   <translation>Linien ohne Geometrie, also ohne lesbare Stützpunkte: {}.</translation>
  </message>
  <message>
   <source>M of the vertices, or their order</source>
   <translation>M der Stützpunkte oder ihre Reihenfolge</translation>
  </message>
  <message>
   <source>Names of fields from your table too: “{}”.</source>
   <translation>Auch Feldnamen aus der eigenen Tabelle: „{}“.</translation>
  </message>
  <message>
   <source>No field says whether an epoch is RTK fixed: ALL epochs are taken as fixed. Float and single positions would spoil the edges. Choose the field in “{}” if there is one.</source>
   <translation>Kein Feld gibt an, ob eine Epoche RTK-fixiert ist: ALLE Epochen gelten als fixiert. Float-Lösungen und Einzelpunktlösungen würden die Kanten verderben. Das Feld in „{}“ wählen, falls es eines gibt.</translation>
  </message>
  <message>
   <source>The times are seconds from an unknown origin (the last one is {:.6g}): “started” and “ended” stay empty; their numbers are in “started_unix” and “ended_unix”.</source>
   <translation>Die Zeiten sind Sekunden von einem unbekannten Nullpunkt an (die letzte ist {:.6g}): „started“ und „ended“ bleiben leer; ihre Zahlen stehen in „started_unix“ und „ended_unix“.</translation>
  </message>
  <message>
   <source>Time is read as: {}.</source>
   <translation>Die Zeit wird gelesen als: {}.</translation>
  </message>
  <message>
   <source>Times in field “{1}” that cannot be read: {0}, for example “{2}”. Their epochs count as having no time.</source>
   <translation>Zeiten in Feld „{1}“, die nicht lesbar sind: {0}, zum Beispiel „{2}“. Ihre Epochen gelten als ohne Zeit.</translation>
  </message>
  <message>
   <source>Times in field “{2}” that name no zone, where others do: {0} of {1}, for example “{3}”. They are taken as UTC. If they are local times, their epochs are in the wrong place in time: write the zone to all of them.</source>
   <translation>Zeiten in Feld „{2}“, die keine Zeitzone nennen, während andere es tun: {0} von {1}, zum Beispiel „{3}“. Sie gelten als UTC. Sind es Ortszeiten, liegen ihre Epochen zeitlich am falschen Platz: zu allen die Zeitzone schreiben.</translation>
  </message>
  <message>
   <source>Times in field “{}” are read as since 1970, which gives {}. If they are seconds of GPS, since 1980-01-06, they begin at {} (less leap seconds): the edges are the same, but their dates are not.</source>
   <translation>Zeiten in Feld „{}“ werden als Zeit seit 1970 gelesen; das ergibt {}. Falls es GPS-Sekunden seit 1980-01-06 sind, beginnen sie bei {} (abzüglich der Schaltsekunden): Die Kanten sind dieselben, ihr Datum aber nicht.</translation>
  </message>
  <message>
   <source>Times in field “{}” go from 12 back to 1, as on a clock of twelve hours without AM or PM: epochs may be in the wrong order. Write them with 24 hours, or with AM and PM.</source>
   <translation>Zeiten in Feld „{}“ gehen von 12 auf 1 zurück, wie auf einer Uhr mit zwölf Stunden ohne AM oder PM: Epochen können in falscher Reihenfolge sein. Mit 24 Stunden schreiben, oder mit AM und PM.</translation>
  </message>
  <message>
   <source>Times in field “{}” run to {}, which is yet to come: they may count from another origin, or the receiver's date may be wrong. The edges are the same, but their dates are not.</source>
   <translation>Zeiten in Feld „{}“ gehen bis {}, was noch in der Zukunft liegt: Sie zählen vielleicht von einem anderen Ursprung, oder das Datum des Empfängers ist falsch. Die Kanten sind dieselben, ihre Daten aber nicht.</translation>
  </message>
  <message>
   <source>Vertical accuracy: no field found.</source>
   <translation>Höhengenauigkeit: kein Feld gefunden.</translation>
  </message>
  <message>
   <source>as chosen</source>
   <translation>wie gewählt</translation>
  </message>
  <message>
   <source>capture</source>
   <translation>Aufnahme</translation>
  </message>
  <message>
   <source>date and time of day</source>
   <translation>Datum und Uhrzeit</translation>
  </message>
  <message>
   <source>each line</source>
   <translation>jede Linie</translation>
  </message>
  <message>
   <source>epoch</source>
   <translation>Epoche</translation>
  </message>
  <message>
   <source>first values: {}</source>
   <translation>erste Werte: {}</translation>
  </message>
  <message>
   <source>fix</source>
   <translation>Lösungsstatus</translation>
  </message>
  <message>
   <source>found by its values</source>
   <translation>an den Werten erkannt</translation>
  </message>
  <message>
   <source>found by name</source>
   <translation>am Namen erkannt</translation>
  </message>
  <message>
   <source>found by name; another field says the same</source>
   <translation>am Namen erkannt; ein anderes Feld sagt dasselbe</translation>
  </message>
  <message>
   <source>from {} to {}</source>
   <translation>von {} bis {}</translation>
  </message>
  <message>
   <source>horizontal accuracy</source>
   <translation>Lagegenauigkeit</translation>
  </message>
  <message>
   <source>known by {}</source>
   <translation>erkannt an {}</translation>
  </message>
  <message>
   <source>names that fit less well: {}</source>
   <translation>weniger gut passende Namen: {}</translation>
  </message>
  <message>
   <source>no value</source>
   <translation>kein Wert</translation>
  </message>
  <message>
   <source>no values in the first {} rows</source>
   <translation>keine Werte in den ersten {} Zeilen</translation>
  </message>
  <message>
   <source>nothing</source>
   <translation>nichts</translation>
  </message>
  <message>
   <source>of these epochs none is taken as known</source>
   <translation>für diese Epochen gilt sie als unbekannt</translation>
  </message>
  <message>
   <source>such values stand in: {}</source>
   <translation>solche Werte stehen in: {}</translation>
  </message>
  <message>
   <source>the layer has: {}</source>
   <translation>der Layer hat: {}</translation>
  </message>
  <message>
   <source>the same in the rows looked at: {}</source>
   <translation>dasselbe in den betrachteten Zeilen: {}</translation>
  </message>
  <message>
   <source>these epochs are rejected as “poor_accuracy”</source>
   <translation>diese Epochen werden als „poor_accuracy“ verworfen</translation>
  </message>
  <message>
   <source>time</source>
   <translation>Zeit</translation>
  </message>
  <message>
   <source>unit by the name: {}</source>
   <translation>Einheit nach dem Namen: {}</translation>
  </message>
  <message>
   <source>vertical accuracy</source>
   <translation>Höhengenauigkeit</translation>
  </message>
  <message>
   <source>your table</source>
   <translation>eigene Tabelle</translation>
  </message>
  <message>
   <source>{}: choose one</source>
   <translation>{}: eines wählen</translation>
  </message>
  <message>
   <source>{}: field {} ({}).</source>
   <translation>{}: Feld {} ({}).</translation>
  </message>
  <message>
   <source>{}: the fields {} are equally good, so none is taken. Choose one in “{}”.</source>
   <translation>{}: Die Felder {} passen gleich gut, daher wird keines verwendet. Eines in „{}“ wählen.</translation>
  </message>
 </context>
 <context>
  <name>Legend</name>
  <message>
   <source>1-sigma across to 8 mm</source>
   <translation>1 Sigma quer bis 8 mm</translation>
  </message>
  <message>
   <source>15 to 30 mm</source>
   <translation>15 bis 30 mm</translation>
  </message>
  <message>
   <source>8 to 15 mm</source>
   <translation>8 bis 15 mm</translation>
  </message>
  <message>
   <source>Above or below the edge</source>
   <translation>Über oder unter der Kante</translation>
  </message>
  <message>
   <source>Added</source>
   <translation>Hinzugefügt</translation>
  </message>
  <message>
   <source>Agrees</source>
   <translation>Stimmt überein</translation>
  </message>
  <message>
   <source>Another edge beside it</source>
   <translation>Andere Kante daneben</translation>
  </message>
  <message>
   <source>Applied</source>
   <translation>Angewandt</translation>
  </message>
  <message>
   <source>Arc</source>
   <translation>Kreisbogen</translation>
  </message>
  <message>
   <source>As it was</source>
   <translation>Wie zuvor</translation>
  </message>
  <message>
   <source>Autonomous</source>
   <translation>Autonom</translation>
  </message>
  <message>
   <source>Averaged</source>
   <translation>Gemittelt</translation>
  </message>
  <message>
   <source>Averaged, gross epochs left out</source>
   <translation>Gemittelt, ohne grobe Fehler</translation>
  </message>
  <message>
   <source>Before a part was replaced</source>
   <translation>Vor dem Ersetzen eines Teils</translation>
  </message>
  <message>
   <source>Before it was replaced</source>
   <translation>Vor dem Ersetzen</translation>
  </message>
  <message>
   <source>Before it was shifted</source>
   <translation>Vor dem Versetzen</translation>
  </message>
  <message>
   <source>Before its end followed</source>
   <translation>Vor dem Nachziehen des Endes</translation>
  </message>
  <message>
   <source>Between captures</source>
   <translation>Zwischen Aufnahmen</translation>
  </message>
  <message>
   <source>Beyond the end of a line</source>
   <translation>Jenseits eines Linienendes</translation>
  </message>
  <message>
   <source>Beyond the others</source>
   <translation>Über die anderen hinaus</translation>
  </message>
  <message>
   <source>Corner</source>
   <translation>Ecke</translation>
  </message>
  <message>
   <source>Deleted</source>
   <translation>Gelöscht</translation>
  </message>
  <message>
   <source>Differential</source>
   <translation>Differenziell (DGNSS)</translation>
  </message>
  <message>
   <source>Differs in height</source>
   <translation>Weicht in der Höhe ab</translation>
  </message>
  <message>
   <source>Differs in plan</source>
   <translation>Weicht in der Lage ab</translation>
  </message>
  <message>
   <source>Displaced</source>
   <translation>Verschoben</translation>
  </message>
  <message>
   <source>Displaced, edge to the left (from 1:1500)</source>
   <translation>Verschoben, Kante links (ab 1:1500)</translation>
  </message>
  <message>
   <source>Displaced, edge to the right (from 1:1500)</source>
   <translation>Verschoben, Kante rechts (ab 1:1500)</translation>
  </message>
  <message>
   <source>End followed</source>
   <translation>Ende nachgezogen</translation>
  </message>
  <message>
   <source>Ends joined</source>
   <translation>Enden verbunden</translation>
  </message>
  <message>
   <source>Extended to a corner</source>
   <translation>Bis zur Ecke verlängert</translation>
  </message>
  <message>
   <source>Gap in a walk</source>
   <translation>Lücke in einer Begehung</translation>
  </message>
  <message>
   <source>Gross height</source>
   <translation>Grob falsche Höhe</translation>
  </message>
  <message>
   <source>Gross position</source>
   <translation>Grob falsche Lage</translation>
  </message>
  <message>
   <source>Height spike</source>
   <translation>Höhenausreißer</translation>
  </message>
  <message>
   <source>Higher than the range</source>
   <translation>Höher als der Bereich</translation>
  </message>
  <message>
   <source>Kept apart</source>
   <translation>Getrennt belassen</translation>
  </message>
  <message>
   <source>Left of the edge</source>
   <translation>Links der Kante</translation>
  </message>
  <message>
   <source>Left open</source>
   <translation>Offen gelassen</translation>
  </message>
  <message>
   <source>Left out by hand</source>
   <translation>Von Hand ausgelassen</translation>
  </message>
  <message>
   <source>Lost</source>
   <translation>Verloren</translation>
  </message>
  <message>
   <source>Lower than the range</source>
   <translation>Niedriger als der Bereich</translation>
  </message>
  <message>
   <source>Merged</source>
   <translation>Zusammengeführt</translation>
  </message>
  <message>
   <source>Neither tangent nor arc</source>
   <translation>Weder Gerade noch Bogen</translation>
  </message>
  <message>
   <source>No length</source>
   <translation>Ohne Länge</translation>
  </message>
  <message>
   <source>No position</source>
   <translation>Ohne Position</translation>
  </message>
  <message>
   <source>No time</source>
   <translation>Ohne Zeit</translation>
  </message>
  <message>
   <source>Not applied yet</source>
   <translation>Noch nicht angewandt</translation>
  </message>
  <message>
   <source>Not fixed</source>
   <translation>Nicht fixiert</translation>
  </message>
  <message>
   <source>Not measured</source>
   <translation>Nicht gemessen</translation>
  </message>
  <message>
   <source>Not said</source>
   <translation>Ohne Angabe</translation>
  </message>
  <message>
   <source>Not visited</source>
   <translation>Nicht begangen</translation>
  </message>
  <message>
   <source>Of several edges</source>
   <translation>Aus mehreren Kanten</translation>
  </message>
  <message>
   <source>On the way</source>
   <translation>Unterwegs</translation>
  </message>
  <message>
   <source>One walk</source>
   <translation>Eine Begehung</translation>
  </message>
  <message>
   <source>Only existing</source>
   <translation>Nur im Bestand</translation>
  </message>
  <message>
   <source>Only new</source>
   <translation>Nur neu</translation>
  </message>
  <message>
   <source>Other</source>
   <translation>Andere</translation>
  </message>
  <message>
   <source>Other or none</source>
   <translation>Andere oder keine</translation>
  </message>
  <message>
   <source>Outlier</source>
   <translation>Ausreißer</translation>
  </message>
  <message>
   <source>Outside the range, within the uncertainty</source>
   <translation>Außerhalb des Bereichs, innerhalb der Unsicherheit</translation>
  </message>
  <message>
   <source>Outside the range, within the uncertainty (from 1:500)</source>
   <translation>Außerhalb des Bereichs, innerhalb der Unsicherheit (ab 1:500)</translation>
  </message>
  <message>
   <source>Partly matched</source>
   <translation>Teilweise zugeordnet</translation>
  </message>
  <message>
   <source>Poor accuracy</source>
   <translation>Geringe Genauigkeit</translation>
  </message>
  <message>
   <source>RTK fixed</source>
   <translation>RTK fixiert</translation>
  </message>
  <message>
   <source>RTK float</source>
   <translation>RTK float</translation>
  </message>
  <message>
   <source>Remnant</source>
   <translation>Rest</translation>
  </message>
  <message>
   <source>Repeated time</source>
   <translation>Wiederholte Zeit</translation>
  </message>
  <message>
   <source>Replaced</source>
   <translation>Ersetzt</translation>
  </message>
  <message>
   <source>Replaced in part</source>
   <translation>Teilweise ersetzt</translation>
  </message>
  <message>
   <source>Retired</source>
   <translation>Historisiert</translation>
  </message>
  <message>
   <source>Right of the edge</source>
   <translation>Rechts der Kante</translation>
  </message>
  <message>
   <source>Ring closed</source>
   <translation>Ring geschlossen</translation>
  </message>
  <message>
   <source>Shifted alone</source>
   <translation>Nur versetzt</translation>
  </message>
  <message>
   <source>Single epoch</source>
   <translation>Einzelepoche</translation>
  </message>
  <message>
   <source>Somewhere outside the range</source>
   <translation>Irgendwo außerhalb des Bereichs</translation>
  </message>
  <message>
   <source>Spike</source>
   <translation>Ausreißer</translation>
  </message>
  <message>
   <source>Standing still</source>
   <translation>Stillstand</translation>
  </message>
  <message>
   <source>Tangent</source>
   <translation>Gerade</translation>
  </message>
  <message>
   <source>Too few at one place</source>
   <translation>Zu wenige an einem Ort</translation>
  </message>
  <message>
   <source>Too short</source>
   <translation>Zu kurz</translation>
  </message>
  <message>
   <source>Unchanged</source>
   <translation>Unverändert</translation>
  </message>
  <message>
   <source>Unconfirmed</source>
   <translation>Unbestätigt</translation>
  </message>
  <message>
   <source>Used</source>
   <translation>Verwendet</translation>
  </message>
  <message>
   <source>Walked back</source>
   <translation>Zurückgegangen</translation>
  </message>
  <message>
   <source>Went off and came back</source>
   <translation>Entfernt und zurückgekehrt</translation>
  </message>
  <message>
   <source>Within the range</source>
   <translation>Im Bereich</translation>
  </message>
  <message>
   <source>Within the range (from 1:500)</source>
   <translation>Im Bereich (ab 1:500)</translation>
  </message>
  <message>
   <source>Within the uncertainty (from 1:500)</source>
   <translation>Innerhalb der Unsicherheit (ab 1:500)</translation>
  </message>
  <message>
   <source>Without effect</source>
   <translation>Ohne Wirkung</translation>
  </message>
  <message>
   <source>Without height (from 1:500)</source>
   <translation>Ohne Höhe (ab 1:500)</translation>
  </message>
  <message>
   <source>Without partner</source>
   <translation>Ohne Partner</translation>
  </message>
  <message>
   <source>over 30 mm</source>
   <translation>über 30 mm</translation>
  </message>
 </context>
 <context>
  <name>Lifecycle</name>
  <message>
   <source>the day since when a new line is valid</source>
   <translation>der Tag, seit dem eine neue Linie gültig ist</translation>
  </message>
  <message>
   <source>the day until when a line that is gone was valid</source>
   <translation>der Tag, bis zu dem eine weggefallene Linie gültig war</translation>
  </message>
  <message>
   <source>{} into “{}”</source>
   <translation>{} in „{}“</translation>
  </message>
  <message>
   <source>“{}” for a line that is gone</source>
   <translation>„{}“ für eine weggefallene Linie</translation>
  </message>
 </context>
 <context>
  <name>LineEvidence</name>
  <message>
   <source>Layer “{}” has no field “{}”.</source>
   <translation>Layer „{}“ hat kein Feld „{}“.</translation>
  </message>
  <message>
   <source>The line cannot be brought into the CRS of layer “{}”, {}. Check which CRS is set for that layer.</source>
   <translation>Die Linie lässt sich nicht in das KBS des Layers „{}“, {}, bringen. Prüfen, welches KBS für diesen Layer eingestellt ist.</translation>
  </message>
  <message>
   <source>without a code</source>
   <translation>ohne Code</translation>
  </message>
 </context>
 <context>
  <name>LineLayer</name>
  <message>
   <source>Layer “{}” holds no lines ({}). Choose a layer of lines; the outlines of polygons can be made lines with “Polygons to lines” of QGIS.</source>
   <translation>Layer „{}“ enthält keine Linien ({}). Einen Layer mit Linien wählen; die Umrisse von Polygonen lassen sich mit „Polygone zu Linien“ von QGIS in Linien umwandeln.</translation>
  </message>
  <message>
   <source>Layer “{}” says that it holds lines, but has another geometry in {} of its {} rows. Take out those rows, or choose another layer.</source>
   <translation>Layer „{}“ ist nach eigener Angabe ein Linienlayer, hat aber in {} seiner {} Zeilen eine andere Geometrie. Diese Zeilen herausnehmen oder einen anderen Layer wählen.</translation>
  </message>
  <message>
   <source>Layer “{}”: vertices with heights that cannot be: {}, for example {:.6g}. They count as having no height.</source>
   <translation>Layer „{}“: Stützpunkte mit unmöglichen Höhen: {}, zum Beispiel {:.6g}. Sie gelten als ohne Höhe.</translation>
  </message>
 </context>
 <context>
  <name>LinePairs</name>
  <message>
   <source>Layer “{}” is compared in the CRS of “{}”: {} to {}, by: {}.</source>
   <translation>Layer „{}“ wird im KBS von „{}“ verglichen: {} nach {}, durch: {}.</translation>
  </message>
  <message>
   <source>Layer “{}”: rows with no geometry, or no length, which get no status: {}.</source>
   <translation>Layer „{}“: Zeilen ohne Geometrie oder ohne Länge, die keinen Status erhalten: {}.</translation>
  </message>
  <message>
   <source>Layer “{}”: {}</source>
   <translation>Layer „{}“: {}</translation>
  </message>
  <message>
   <source>Layers “{}” and “{}” are both empty: there is nothing to compare. If filters or “selected features only” are set, check them.</source>
   <translation>Layer „{}“ und „{}“ sind beide leer: Es gibt nichts zu vergleichen. Falls Filter oder „Nur gewählte Objekte“ gesetzt sind, diese prüfen.</translation>
  </message>
  <message>
   <source>Layers “{}” and “{}” cannot be compared: {}.</source>
   <translation>Layer „{}“ und „{}“ lassen sich nicht vergleichen: {}.</translation>
  </message>
  <message>
   <source>feature id</source>
   <translation>Objekt-ID</translation>
  </message>
  <message>
   <source>field “{}”</source>
   <translation>Feld „{}“</translation>
  </message>
  <message>
   <source>the only one there is</source>
   <translation>die einzige vorhandene</translation>
  </message>
 </context>
 <context>
  <name>Loading</name>
  <message>
   <source>Comparison</source>
   <translation>Vergleich</translation>
  </message>
  <message>
   <source>Edges</source>
   <translation>Kanten</translation>
  </message>
  <message>
   <source>Evidence</source>
   <translation>Belege</translation>
  </message>
  <message>
   <source>To do</source>
   <translation>Zu erledigen</translation>
  </message>
 </context>
 <context>
  <name>MergePasses</name>
  <message>
   <source>Merge repeat passes</source>
   <translation>Wiederholte Durchgänge zusammenführen</translation>
  </message>
  <message>
   <source>Two or more walks of one edge to one weighted edge, with the repeatability and a list of disagreements.</source>
   <translation>Zwei oder mehr Begehungen einer Kante zu einer gewichteten Kante, mit der Wiederholgenauigkeit und einer Liste der Widersprüche.</translation>
  </message>
  <message>
   <source>Walks of one edge, in either direction, overlapping in part or going round a ring more than once, become one edge at their weighted mean; heights too. Merge the layers first where the walks lie in several. Rows may come in any order.

Two lines count as walks of one edge where they lie within the maximum offset of each other and agree within their uncertainty, in plan and in height, over more than half of what they share. So the top and the foot of a curb, a centimetre or two apart in plan, stay two edges as long as both have heights; without heights, name a field that says which edge was walked in “Fields that tell edges apart”.

Weights are 1/sigma². Where a walk begins or ends inside the edge it gains or loses its weight over the blend length, so that there is no step; what one walk alone saw stays as it is. Corners are where the merged legs meet, one sharp corner however many walks there are. Of two sigmas of like size one goes down to 0.71, of three to 0.58: what the receiver's error keeps over a minute is independent too between walks at other times. What all walks share (base position, antenna height, a pole out of plumb) is not in it and does not go down.

Disagreements are not averaged away. Where walks differ by more than their uncertainty at the confidence asked for (and by more than 30 mm in plan or 50 mm up, which the foot of a pole explains), the edge follows those that agree; of two walks the straighter one, since an outlier makes a line longer, and in height the surer one. In plan the other stretch stays as it was walked, as an edge of its own (“apart”) that leaves the merged edge and comes back to it: a mean of the two would lie where nobody walked, and a greater sigma would hide it. Look, and delete the wrong one. Heights that differ are only listed: two lines in one place would help nobody.

Edges: every source field (kept where all walks have the same value; times and counts are put together), and edge_id, state, passes, captures, sources, length, shared_length (seen by two or more), sigma_cross, sigma_up, repeatability and repeatability_up (RMS of the differences between two walks, without disagreements), closed. state: “single” (no partner: passed on unchanged), “merged”, “rest” (what one walk shows beyond the others), “apart”. An edge runs the way that most of its walks ran.

Passes: for each walk its edge, state (also “copy”, a vertex by vertex repetition that is no further walk, and “remnant”), chainages, direction, shared length, mean offset from the mean of the others (+ to the right of the edge) and RMS from each of them, the same in height.

Disagreements: reason “plan”, “height”, “other_edge” (within reach, yet another edge), “parted” (went farther off than the maximum offset and came back), “remnant” (under a metre, no edge of its own), with how much and how much is allowed. Every stretch of the input is in an edge or in this list.

All lengths are metres on the ground, whatever the CRS. The result is of mapping grade: it is no boundary survey, and not for stake-out without a licensed surveyor.</source>
   <translation>Begehungen einer Kante, in beliebiger Richtung, teilweise überlappend oder mehrmals um einen Ring, werden zu einer Kante an ihrem gewichteten Mittel; die Höhen ebenso. Die Layer zuerst zusammenführen, wenn die Begehungen in mehreren liegen. Zeilen können in beliebiger Reihenfolge stehen.

Zwei Linien zählen als Begehungen einer Kante, wo sie innerhalb des größten Querabstands voneinander liegen und auf mehr als der Hälfte ihres gemeinsamen Verlaufs in Lage und Höhe innerhalb ihrer Unsicherheit übereinstimmen. So bleiben Oberkante und Fuß eines Bordsteins, im Grundriss ein bis zwei Zentimeter auseinander, zwei Kanten, solange beide Höhen haben; ohne Höhen in „Felder zur Unterscheidung der Kanten“ ein Feld angeben, das sagt, welche Kante begangen wurde.

Gewichte sind 1/sigma². Wo eine Begehung innerhalb der Kante beginnt oder endet, gewinnt oder verliert sie ihr Gewicht über die Überblendlänge, sodass kein Versprung entsteht; was nur eine Begehung gesehen hat, bleibt, wie es ist. Ecken liegen dort, wo sich die zusammengeführten Schenkel treffen, eine scharfe Ecke, wie viele Begehungen es auch sind. Bei zwei ähnlich großen Sigmas sinkt das Sigma auf das 0,71-Fache, bei drei auf das 0,58-Fache: Was sich vom Fehler des Empfängers über eine Minute hält, ist zwischen Begehungen zu anderen Zeiten ebenfalls unabhängig. Was alle Begehungen gemeinsam haben (Basisposition, Antennenhöhe, ein nicht lotrechter Stab), ist nicht enthalten und sinkt nicht.

Widersprüche werden nicht weggemittelt. Wo sich Begehungen beim gewünschten Vertrauensniveau um mehr als ihre Unsicherheit unterscheiden (und um mehr als 30 mm in der Lage oder 50 mm in der Höhe, was sich mit der Stabspitze erklären lässt), folgt die Kante denen, die übereinstimmen; von zwei Begehungen der geraderen, da ein Ausreißer eine Linie länger macht, und in der Höhe der sichereren. In der Lage bleibt der andere Abschnitt, wie er begangen wurde, als eigene Kante („apart“), die die zusammengeführte Kante verlässt und zu ihr zurückkehrt: Ein Mittel aus beiden läge, wo niemand gegangen ist, und ein größeres Sigma würde dies verdecken. Ansehen und die falsche löschen. Abweichende Höhen werden nur aufgeführt, da zwei Linien an einem Ort niemandem helfen würden.

Kanten: alle Felder der Quelle (behalten, wo alle Begehungen denselben Wert haben; Zeiten und Anzahlen werden zusammengefasst) und edge_id, state, passes, captures, sources, length, shared_length (von zwei oder mehr gesehen), sigma_cross, sigma_up, repeatability und repeatability_up (RMS der Differenzen zwischen zwei Begehungen, ohne Widersprüche), closed. state: „single“ (kein Gegenstück: unverändert weitergegeben), „merged“, „rest“ (was eine Begehung über die anderen hinaus zeigt), „apart“. Eine Kante verläuft in der Richtung der meisten ihrer Begehungen.

Durchgänge: für jede Begehung ihre Kante, state (auch „copy“, eine Wiederholung Stützpunkt für Stützpunkt, die keine weitere Begehung ist, und „remnant“), Stationierungen, Richtung, gemeinsame Länge, mittlerer Querabstand vom Mittel der anderen (+ rechts der Kante) und RMS zu jeder von ihnen, dasselbe in der Höhe.

Widersprüche: reason „plan“, „height“, „other_edge“ (in Reichweite, aber eine andere Kante), „parted“ (entfernte sich weiter als der größte Querabstand und kehrte zurück), „remnant“ (unter einem Meter, keine eigene Kante), mit dem Betrag und dem zulässigen Betrag. Jeder Abschnitt der Eingabe ist in einer Kante oder in dieser Liste.

Alle Längen sind Meter in der Örtlichkeit, unabhängig vom KBS. Das Ergebnis hat Kartiergenauigkeit: Es ist keine Grenzvermessung und ohne befugte Vermessungsstelle nicht zur Absteckung geeignet.</translation>
  </message>
  <message>
   <source>merge,repeat,pass,walk,average,weighted,mean,repeatability,precision,conflation,overlap,duplicate,curb,kerb,edge,survey,conflate,gps line cleaning</source>
   <translation>merge,repeat,pass,walk,average,weighted,mean,repeatability,precision,conflation,overlap,duplicate,curb,kerb,edge,survey,conflate,gps line cleaning,zusammenführen,wiederholen,Wiederholung,Durchgang,Begehung,mitteln,gewichtet,Mittel,Wiederholgenauigkeit,Präzision,Überlappung,doppelt,Bordstein,Kante,Vermessung,GPS-Linie bereinigen</translation>
  </message>
 </context>
 <context>
  <name>MergeTables</name>
  <message>
   <source>, {:+.3f} m in height</source>
   <translation>, {:+.3f} m in der Höhe</translation>
  </message>
  <message>
   <source>: another edge.</source>
   <translation>: eine andere Kante.</translation>
  </message>
  <message>
   <source>left</source>
   <translation>links</translation>
  </message>
  <message>
   <source>right</source>
   <translation>rechts</translation>
  </message>
  <message>
   <source>up to {:.3f} m to the {}</source>
   <translation>bis zu {:.3f} m {}</translation>
  </message>
  <message>
   <source>{:.1f} m leave the edge, {}, and come back: kept as an edge of its own.</source>
   <translation>{:.1f} m verlassen die Kante, {}, und kehren zurück: als eigene Kante behalten.</translation>
  </message>
  <message>
   <source>{:.1f} m lie {:+.3f} m in height from the edge, where {:.3f} m are explained: left out of its height.</source>
   <translation>{:.1f} m liegen {:+.3f} m in der Höhe von der Kante entfernt, wo {:.3f} m erklärbar sind: nicht für deren Höhe verwendet.</translation>
  </message>
  <message>
   <source>{:.1f} m lie {} of the edge, where {:.3f} m are explained: kept apart.</source>
   <translation>{:.1f} m liegen {} der Kante, wo {:.3f} m erklärbar sind: getrennt gehalten.</translation>
  </message>
  <message>
   <source>{:.1f} m next to the edge, {}: too short for an edge of its own.</source>
   <translation>{:.1f} m neben der Kante, {}: zu kurz für eine eigene Kante.</translation>
  </message>
  <message>
   <source>{:.1f} m run along the edge, {}</source>
   <translation>{:.1f} m verlaufen entlang der Kante, {}</translation>
  </message>
 </context>
 <context>
  <name>OffsetEdges</name>
  <message>
   <source>Derive parallel edges</source>
   <translation>Parallele Kanten ableiten</translation>
  </message>
  <message>
   <source>Derives parallels of edges from a cross-section: one line for each “name: offset height” in it, separated by semicolons or new lines. Offsets are metres on the ground, + to the right of the edge in its own direction, − to the left; heights are metres, + above the edge. For example

    flow line: 0.02 -0.15; gutter lip: 0.48 -0.13; back of curb: -0.15 0

for the top of a curb that was walked with the carriageway on the right. This is the default, an example and no standard: a reveal of 6 in (150 mm), a face that leans back by 20 mm, a gutter pan of 18 in whose slope stays within 1 : 20 (the maximum counter slope next to an accessible ramp, 2010 ADA Standards 406.2), and a top 6 in wide; the widths are common practice. Measure the section on site, as each city has its own.

Edges walked the other way round: mirror all of them, or choose a field that says which (true, yes, 1 or “left” where the section counts to the left).

Arcs become concentric arcs, with more vertices where they become wider. Corners are mitred outside, up to the limit, and rounded beyond it; inside they meet in a point. Elements that are smaller than the offset vanish, without loops; a parallel that falls apart so is several lines (piece 1, 2 …), and one that nothing is left of is counted and named. Closed rings stay closed, with their seam where the edge has it.

Parallels: LineStringZ with source (the edge it comes from), line (its name in the section), offset, height, length (m on the ground), piece, closed, and every field of the edge; fields with the name of a new one get “_source”. Heights are those of the edge at the nearest place, plus the height given. Edges without heights give NaN.

What is derived was not captured: it is as good as the section fits, and a dropped curb, a ramp or a worn gutter does not show. It is of mapping grade, no as-built record, and not for stake-out without a licensed surveyor.</source>
   <translation>Leitet aus einem Querprofil Parallelen von Kanten ab: eine Linie für jedes „Name: Querabstand Höhe“ darin, getrennt durch Semikolons oder neue Zeilen. Querabstände sind Meter in der Örtlichkeit, + rechts der Kante in ihrer eigenen Richtung, − links; Höhen sind Meter, + über der Kante. Zum Beispiel

    flow line: 0.02 -0.15; gutter lip: 0.48 -0.13; back of curb: -0.15 0

(Rinnensohle, Außenkante der Rinne, Rückseite des Bordsteins) für eine Bordoberkante, die mit der Fahrbahn zur Rechten begangen wurde. Dies ist die Voreinstellung, ein Beispiel und keine Norm: eine sichtbare Bordhöhe von 6 in (150 mm), eine Ansichtsfläche mit 20 mm Anlauf, eine 18 in breite Rinne, deren Neigung innerhalb von 1 : 20 bleibt (größte Gegenneigung neben einer barrierefreien Rampe, 2010 ADA Standards 406.2), und eine 6 in breite Oberseite; die Breiten entsprechen verbreiteter Praxis. Das Profil vor Ort messen, denn jede Stadt hat ihr eigenes.

Für Kanten, die andersherum begangen wurden: alle spiegeln oder ein Feld wählen, das es angibt (true, yes, 1 oder „left“, wo das Profil nach links zählt).

Kreisbögen werden zu konzentrischen Kreisbögen, mit mehr Stützpunkten, wo sie weiter werden. Ecken werden außen bis zur Gehrungsgrenze auf Gehrung geführt und darüber hinaus ausgerundet; innen treffen sie sich in einem Punkt. Elemente, die kleiner sind als der Querabstand, verschwinden ohne Schleifen; eine Parallele, die dabei zerfällt, besteht aus mehreren Linien (piece 1, 2 …), und eine, von der nichts übrig bleibt, wird gezählt und genannt. Geschlossene Ringe bleiben geschlossen, mit ihrer Nahtstelle dort, wo die Kante sie hat.

Parallelen: LineStringZ mit source (die Kante, von der sie stammt), line (ihr Name im Profil), offset, height, length (m in der Örtlichkeit), piece, closed und allen Feldern der Kante; Felder, die wie ein neues heißen, erhalten „_source“. Höhen sind die der Kante an der nächsten Stelle zuzüglich der angegebenen Höhe. Kanten ohne Höhen ergeben NaN.

Was abgeleitet ist, wurde nicht aufgenommen: Es ist so gut, wie das Profil passt, und ein abgesenkter Bord, eine Rampe oder eine ausgefahrene Rinne zeigt sich darin nicht. Es hat Kartiergenauigkeit, ist keine Bestandsdokumentation und ohne befugte Vermessungsstelle nicht zur Absteckung geeignet.</translation>
  </message>
  <message>
   <source>Flow line, gutter lip, back of curb and the like, from a cross-section of offsets and heights.</source>
   <translation>Rinnensohle, Außenkante der Rinne, Rückseite des Bordsteins und Ähnliches aus einem Querprofil mit Querabständen und Höhen.</translation>
  </message>
  <message>
   <source>offset,parallel,curb,kerb,gutter,flow line,lip,back of curb,face,cross-section,section,template,upstand,kerbline,as-built</source>
   <translation>offset,parallel,curb,kerb,gutter,flow line,lip,back of curb,face,cross-section,section,template,upstand,kerbline,as-built,Querabstand,Parallele,Bordstein,Rinne,Rinnensohle,Bordrückseite,Ansichtsfläche,Querprofil,Querschnitt,Profil,Regelquerschnitt,Auftritt,Bordlinie,Bestandsaufnahme</translation>
  </message>
 </context>
 <context>
  <name>Opened</name>
  <message>
   <source>“{}” could not be written to “{}”: {}. Make sure that the place can be reached and written to, or choose another one.</source>
   <translation>„{}“ konnte nicht nach „{}“ geschrieben werden: {}. Sicherstellen, dass der Ort erreichbar und beschreibbar ist, oder einen anderen wählen.</translation>
  </message>
  <message>
   <source>“{}”: geometries with vertices that are no numbers: {}. Their rows are written without geometry. Repair them in the source.</source>
   <translation>„{}“: Geometrien mit Stützpunkten, die keine Zahlen sind: {}. Ihre Zeilen werden ohne Geometrie geschrieben. Sie in der Quelle reparieren.</translation>
  </message>
 </context>
 <context>
  <name>Operations</name>
  <message>
   <source>Better operations only lack a grid file: {}.</source>
   <translation>Besseren Operationen fehlt nur eine Gitterdatei: {}.</translation>
  </message>
  <message>
   <source>Until that is settled, do not take a shift between the layers for a change.</source>
   <translation>Bis das geklärt ist, einen Versatz zwischen den Layern nicht für eine Änderung halten.</translation>
  </message>
  <message>
   <source>accuracy not known</source>
   <translation>Genauigkeit nicht bekannt</translation>
  </message>
  <message>
   <source>no datum shift is applied (“ballpark”)</source>
   <translation>kein Datumsübergang angewandt („ballpark“)</translation>
  </message>
  <message>
   <source>stated accuracy {} m</source>
   <translation>angegebene Genauigkeit {} m</translation>
  </message>
  <message>
   <source>the only operation there is</source>
   <translation>die einzige vorhandene Operation</translation>
  </message>
  <message>
   <source>which applies no datum shift (“ballpark”)</source>
   <translation>die keinen Datumsübergang anwendet („ballpark“)</translation>
  </message>
  <message>
   <source>whose accuracy is not known</source>
   <translation>deren Genauigkeit nicht bekannt ist</translation>
  </message>
  <message>
   <source>whose stated accuracy is {} m</source>
   <translation>deren angegebene Genauigkeit {} m beträgt</translation>
  </message>
  <message>
   <source>without loss</source>
   <translation>ohne Verlust</translation>
  </message>
  <message>
   <source>{} stands for several realisations of its datum. Ask in which realisation and at which epoch the correction service works, and give the layer the CRS of that realisation.</source>
   <translation>{} steht für mehrere Realisierungen seines Datums. Erfragen, in welcher Realisierung und zu welcher Epoche der Korrekturdienst arbeitet, und dem Layer das KBS dieser Realisierung zuweisen.</translation>
  </message>
  <message>
   <source>{} to {}, by “{}”: {}</source>
   <translation>{} nach {}, durch „{}“: {}</translation>
  </message>
  <message>
   <source>“{}” ({} m, {})</source>
   <translation>„{}“ ({} m, {})</translation>
  </message>
  <message>
   <source>“{}” and “{}” are joined by the operation “{}”, {}: everything may be shifted by decimetres or more.</source>
   <translation>„{}“ und „{}“ werden durch die Operation „{}“ verbunden, {}: Alles kann um Dezimeter oder mehr versetzt sein.</translation>
  </message>
 </context>
 <context>
  <name>Outputs</name>
  <message>
   <source>Fields of a former run replaced in “{}”: {}.</source>
   <translation>Felder eines früheren Laufs in „{}“ ersetzt: {}.</translation>
  </message>
  <message>
   <source>Source fields renamed in “{}”: {}.</source>
   <translation>Umbenannte Felder der Quelle in „{}“: {}.</translation>
  </message>
 </context>
 <context>
  <name>PairCheck</name>
  <message>
   <source>Layer “{}” holds gaps between edges (fields {}), no edges: a comparison with them means nothing. Choose the layer of edges.</source>
   <translation>Layer „{}“ enthält Lücken zwischen Kanten (Felder {}) und keine Kanten: Eine Aussage über sie besagt nichts. Den Layer der Kanten wählen.</translation>
  </message>
  <message>
   <source>Layer “{}” is a table of changes of an update (fields {}): its lines are as they were before. Choose the layer of lines itself.</source>
   <translation>Layer „{}“ ist eine Tabelle der Änderungen einer Fortführung (Felder {}): Seine Linien sind, wie sie vorher waren. Den Layer der Linien selbst wählen.</translation>
  </message>
  <message>
   <source>“{}” and “{}” are the same lines ({:.0f} % of the first are in the second to the millimetre): a layer that is compared with itself always agrees. Check which layers are chosen.</source>
   <translation>„{}“ und „{}“ sind dieselben Linien ({:.0f} % der ersten sind auf den Millimeter genau in den zweiten enthalten): Ein mit sich selbst verglichener Layer stimmt immer überein. Prüfen, welche Layer gewählt sind.</translation>
  </message>
  <message>
   <source>“{}” and “{}” may be swapped: the existing lines look like edges from epochs, the edges like a map. Check which layer is which.</source>
   <translation>„{}“ und „{}“ sind vielleicht vertauscht: Die Bestandslinien sehen aus wie Kanten aus Epochen, die Kanten wie eine Karte. Prüfen, welcher Layer welcher ist.</translation>
  </message>
 </context>
 <context>
  <name>Places</name>
  <message>
   <source>Layer “{0}”: vertices more than {2:.0f} km from those before and after them: {1}, for example at {3:.10g}; {4:.10g}. They count as having no position.</source>
   <translation>Layer „{0}“: Stützpunkte, die mehr als {2:.0f} km von denen davor und danach entfernt liegen: {1}, zum Beispiel bei {3:.10g}; {4:.10g}. Sie gelten als ohne Position.</translation>
  </message>
  <message>
   <source>Layer “{}” reaches {:.0f} km from its middle: lengths and offsets that far away may be off by 0.01 % and more. Work on it in parts, for example by region.</source>
   <translation>Layer „{}“ reicht bis {:.0f} km von seiner Mitte: Längen und Querabstände können so weit außen um 0,01 % und mehr falsch sein. Ihn in Teilen bearbeiten, zum Beispiel nach Regionen.</translation>
  </message>
  <message>
   <source>Layer “{}”: all its positions, about {:.10g}, {:.10g}, lie within {} unit of each other, as degrees do, but its CRS is {}. Check which CRS they are in.</source>
   <translation>Layer „{}“: Alle seine Positionen, etwa {:.10g}; {:.10g}, liegen wie bei Grad innerhalb von {} Einheit beieinander, sein KBS aber ist {}. Prüfen, in welchem KBS sie sind.</translation>
  </message>
  <message>
   <source>Layer “{}”: its positions, about {:.10g}, {:.10g}, lie outside the area of use of {}, but inside it with east and north exchanged. Exchange them (“Swap X and Y coordinates” of QGIS), or assign the right CRS.</source>
   <translation>Layer „{}“: Seine Positionen, etwa {:.10g}; {:.10g}, liegen außerhalb des Gültigkeitsbereichs von {}, aber innerhalb, wenn Ost und Nord vertauscht werden. Sie vertauschen („X- und Y-Koordinaten vertauschen“ von QGIS) oder das richtige KBS zuweisen.</translation>
  </message>
  <message>
   <source>Layer “{}”: its positions, about {:.10g}, {:.10g}, lie outside the area of use of {}. Check which CRS they are in.</source>
   <translation>Layer „{}“: Seine Positionen, etwa {:.10g}; {:.10g}, liegen außerhalb des Gebiets, für das {} gilt. Prüfen, in welchem KBS sie sind.</translation>
  </message>
  <message>
   <source>Layer “{}”: positions 0, 0, far from all others: {}. They count as having no position.</source>
   <translation>Layer „{}“: Positionen 0, 0, weit entfernt von allen anderen: {}. Sie gelten als ohne Position.</translation>
  </message>
 </context>
 <context>
  <name>PlausibleTable</name>
  <message>
   <source>Capture “{}” holds {} walks at the same time (several receivers under one name, or a clock that was set back): each of them is taken as a capture by itself.</source>
   <translation>Aufnahme „{}“ enthält {} gleichzeitige Begehungen (mehrere Empfänger unter einem Namen oder eine zurückgestellte Uhr): Jede von ihnen gilt als eigene Aufnahme.</translation>
  </message>
  <message>
   <source>Captures in all that hold several walks at the same time: {}.</source>
   <translation>Aufnahmen insgesamt, die mehrere gleichzeitige Begehungen enthalten: {}.</translation>
  </message>
  <message>
   <source>Epochs with heights that do not fit their walk: {}, for example {:.6g} m. They count as having no height.</source>
   <translation>Epochen mit Höhen, die nicht zu ihrer Begehung passen: {}, zum Beispiel {:.6g} m. Sie gelten als ohne Höhe.</translation>
  </message>
  <message>
   <source>Field “{}”: a horizontal accuracy of {:.4g} m, half of the epochs within “{}” have a greater one, cannot be in metres, as positions scatter by {:.3f} m from epoch to epoch. Bring it into metres.</source>
   <translation>Feld „{}“: Eine Lagegenauigkeit von {:.4g} m (die Hälfte der Epochen innerhalb von „{}“ hat eine größere) kann nicht in Metern sein, da die Positionen von Epoche zu Epoche um {:.3f} m streuen. In Meter umrechnen.</translation>
  </message>
  <message>
   <source>Field “{}”: a vertical accuracy of {:.4g} m, half of all fixed epochs have a greater one, cannot be in metres, as heights differ by {:.3f} m from epoch to epoch. It is not used. Bring it into metres.</source>
   <translation>Feld „{}“: Eine Höhengenauigkeit von {:.4g} m (die Hälfte aller fixierten Epochen hat eine größere) kann nicht in Metern sein, da sich die Höhen von Epoche zu Epoche um {:.3f} m unterscheiden. Es wird nicht verwendet. In Meter umrechnen.</translation>
  </message>
  <message>
   <source>Layer “{}”: {:.0%} of its epochs have the very position of other ones, {:.6g} s later. A walk seems to be in it twice, with two readings of its times, and its edges are double. Take one of them out.</source>
   <translation>Layer „{}“: {:.0%} seiner Epochen haben genau die Position von anderen, {:.6g} s später. Eine Begehung scheint zweimal darin zu sein, mit zweierlei Lesart ihrer Zeiten, und ihre Kanten sind doppelt. Eine davon herausnehmen.</translation>
  </message>
 </context>
 <context>
  <name>Presentation</name>
  <message>
   <source>{}: made by “{}” of Curbwright from {}.</source>
   <translation>{}: erzeugt mit „{}“ von Curbwright aus {}.</translation>
  </message>
 </context>
 <context>
  <name>Printing</name>
  <message>
   <source>the file cannot be written</source>
   <translation>die Datei kann nicht geschrieben werden</translation>
  </message>
  <message>
   <source>the file is not whole</source>
   <translation>die Datei ist nicht vollständig</translation>
  </message>
  <message>
   <source>this QGIS lacks the module that draws SVG (QtSvg)</source>
   <translation>diesem QGIS fehlt das Modul, das SVG zeichnet (QtSvg)</translation>
  </message>
  <message>
   <source>this host has no fonts</source>
   <translation>dieses QGIS hat keine Schriften</translation>
  </message>
  <message>
   <source>this host runs without anything that draws</source>
   <translation>dieses QGIS läuft ohne Zeichenumgebung</translation>
  </message>
 </context>
 <context>
  <name>ProcessCaptures</name>
  <message>
   <source>All capture layers at once: edges, alignments, comparison, one GeoPackage and one report.</source>
   <translation>Alle Aufnahmelayer auf einmal: Kanten, Trassierungen, Vergleich, ein GeoPackage und ein Bericht.</translation>
  </message>
  <message>
   <source>No</source>
   <translation>Nein</translation>
  </message>
  <message>
   <source>Process captures of a project</source>
   <translation>Aufnahmen eines Projekts verarbeiten</translation>
  </message>
  <message>
   <source>Takes every capture layer of a project from epochs to edges, and on request on to merged passes, tangents and arcs, and the comparison with existing linework: “Reconstruct edges”, “Merge repeat passes”, “Fit tangents and arcs”, “Compare edges with existing linework”, one after the other. Made to be run again every evening, by hand or unattended.

Into the folder go curbwright.gpkg and report.html. Layers of the GeoPackage: edges, gaps, rejected, kept; with “Merge repeat passes” merged, passes and disagreements (edges stay as they were walked, what follows takes the merged ones); with “Fit tangents and arcs” alignments and elements, fitted to the edges; with existing lines comparison, existing_status, stations and comparison_summary; revisits and revisit_reasons (“List places to revisit”, from all of these); always repairs, summary (what came of each layer and stage), history (one row per run and layer, kept from run to run) and run_log (versions, parameters, counts: what is needed to repeat the result). All in one CRS. Each row says in “layer” which capture layer it comes from; edge_id counts through all layers. Fields that only some layers have are empty for the others.

A layer that fails is named with its error, in the log, the summary and the report; the others go on. If none is left, the run fails. A stage that fails leaves the edges as they are and is named likewise. With “Fail if a layer or stage fails” the run then ends with an error, once all others are written.

With control points each capture day is checked by the spot points taken on it, and a day that is off is named first, in the log and in the report.

What was fitted to a layer is kept in the GeoPackage; a layer whose epochs, settings and versions are those of the last run is not fitted again, with the same result.

New results take the place of the old ones only when all are complete; a run that fails, is cancelled or cut off leaves the old ones as they were, and the next run clears what it left. Other layers in the same GeoPackage stay. Where the results are open in a project, here or in another process, their tables are replaced inside the GeoPackage and the project shows the new ones; only somebody who has edits that are not saved stops the run with a message.

What people changed in the results is carried over: decisions, edited fields and lines go to the new line that carries on from the old one (the same capture and time, or for lines of several walks the same place, within 5 cm over 80 % of its length), rows that were deleted are taken out again, rows that were added are added. A change that has no place in the new results is kept in the layer superseded, with the reason, which no run empties.

The layer repairs takes what a person decided about single epochs and stretches, one row each: an epoch left out or taken back in, a corner or none, a break, a gap bridged, a tangent, an arc or a free form. Every run carries them out again, says of each what became of it (applied, lost, no_effect), and keeps all rows; deleting one undoes it. Epochs are never altered.

In an open project the results are loaded, styled, into the group “Curbwright”, the comparison and the places to revisit on, all else off; those that are there already are renewed and keep their style. The GeoPackage also holds the styles of its layers and a project, “curbwright”, with all of them.

The field parameters are names that hold for all layers; a layer without such a field fails. Left empty, fields are found layer by layer. All lengths are metres, whatever the CRS.

The result is of mapping grade: it is no boundary survey, and not for stake-out without a licensed surveyor.</source>
   <translation>Führt jeden Aufnahmelayer eines Projekts von Epochen zu Kanten und auf Wunsch weiter zu zusammengeführten Durchgängen, Geraden und Kreisbögen und zum Vergleich mit Bestandslinien: „Kanten rekonstruieren“, „Wiederholte Durchgänge zusammenführen“, „Geraden und Kreisbögen einpassen“, „Kanten mit Bestandslinien vergleichen“, eines nach dem anderen. Dafür gedacht, jeden Abend erneut ausgeführt zu werden, von Hand oder unbeaufsichtigt.

In den Ordner kommen curbwright.gpkg und report.html. Layer des GeoPackage: edges, gaps, rejected, kept; mit „Wiederholte Durchgänge zusammenführen“ merged, passes und disagreements (edges bleibt, wie begangen wurde, die folgenden Schritte verwenden die zusammengeführten); mit „Geraden und Kreisbögen einpassen“ alignments und elements, eingepasst in die Kanten; mit Bestandslinien comparison, existing_status, stations und comparison_summary; revisits und revisit_reasons („Orte zur Nachbegehung auflisten“, aus allen diesen); immer repairs, summary (was aus jedem Layer und Schritt wurde), history (eine Zeile je Lauf und Layer, von Lauf zu Lauf erhalten) und run_log (Versionen, Parameter, Anzahlen: was nötig ist, um das Ergebnis zu wiederholen). Alles in einem KBS. Jede Zeile gibt in „layer“ an, aus welchem Aufnahmelayer sie stammt; edge_id zählt durch alle Layer. Felder, die nur manche Layer haben, sind bei den übrigen leer.

Ein fehlgeschlagener Layer wird mit seinem Fehler genannt, im Protokoll, in der Zusammenfassung und im Bericht; die anderen laufen weiter. Bleibt keiner übrig, schlägt der Lauf fehl. Ein fehlgeschlagener Schritt lässt die Kanten, wie sie sind, und wird ebenso genannt. Mit „Mit einem Fehler enden, wenn ein Layer oder ein Schritt fehlschlug“ endet der Lauf dann mit einem Fehler, sobald alle anderen geschrieben sind.

Mit Festpunkten wird jeder Aufnahmetag an den darauf aufgenommenen Einzelpunkten kontrolliert, und ein abweichender Tag wird zuerst genannt, im Protokoll und im Bericht.

Was in einen Layer eingepasst wurde, bleibt im GeoPackage; ein Layer, dessen Epochen, Einstellungen und Versionen die des letzten Laufs sind, wird nicht erneut eingepasst, mit demselben Ergebnis.

Neue Ergebnisse treten erst dann an die Stelle der alten, wenn alle vollständig sind; ein Lauf, der fehlschlägt, abgebrochen oder unterbrochen wird, lässt die alten, wie sie waren, und der nächste Lauf räumt auf, was er hinterließ. Andere Layer im selben GeoPackage bleiben. Wo die Ergebnisse in einem Projekt geöffnet sind, hier oder in einem anderen Prozess, werden ihre Tabellen innerhalb des GeoPackage ersetzt, und das Projekt zeigt die neuen; nur nicht gespeicherte Bearbeitungen halten den Lauf mit einer Meldung an.

Was Personen an den Ergebnissen geändert haben, wird übernommen: Entscheidungen, bearbeitete Felder und Linien gehen auf die neue Linie über, die die alte fortsetzt (dieselbe Aufnahme und Zeit, oder bei Linien aus mehreren Begehungen derselbe Ort, innerhalb von 5 cm auf 80 % ihrer Länge), gelöschte Zeilen werden wieder herausgenommen, hinzugefügte werden hinzugefügt. Eine Änderung, die in den neuen Ergebnissen keinen Platz hat, bleibt mit dem Grund im Layer superseded, den kein Lauf leert.

Der Layer repairs nimmt auf, was jemand über einzelne Epochen und Abschnitte entschieden hat, eine Zeile je Entscheidung: eine Epoche weggelassen oder wieder hereingenommen, eine Ecke oder keine, eine Unterbrechung, eine überbrückte Lücke, eine Gerade, ein Bogen oder eine freie Form. Jeder Lauf führt sie wieder aus, sagt von jeder, was aus ihr geworden ist (applied, lost, no_effect), und behält alle Zeilen; wer eine löscht, macht sie rückgängig. Die Epochen selbst werden nie verändert.

In einem geöffneten Projekt werden die Ergebnisse mit Stilen in die Gruppe „Curbwright“ geladen, der Vergleich und die Orte zur Nachbegehung eingeschaltet, alles andere ausgeschaltet; bereits vorhandene werden erneuert und behalten ihren Stil. Das GeoPackage enthält auch die Stile seiner Layer und ein Projekt, „curbwright“, mit allen.

Die Feldparameter sind Namen, die für alle Layer gelten; ein Layer ohne ein solches Feld schlägt fehl. Leer gelassen, werden die Felder Layer für Layer erkannt. Alle Längen sind Meter, unabhängig vom KBS.

Das Ergebnis hat Kartiergenauigkeit: Es ist keine Grenzvermessung und ohne befugte Vermessungsstelle nicht zur Absteckung geeignet.</translation>
  </message>
  <message>
   <source>What was accepted</source>
   <translation>Was angenommen wurde</translation>
  </message>
  <message>
   <source>What was accepted, and clear cases</source>
   <translation>Was angenommen wurde, und eindeutige Fälle</translation>
  </message>
  <message>
   <source>batch,project,nightly,unattended,all layers,chain,workflow,curb,kerb,edge,gnss,rtk,epochs,report,geopackage,survey,kerbline,map update,as-built,vectorise</source>
   <translation>batch,project,nightly,unattended,all layers,chain,workflow,curb,kerb,edge,gnss,rtk,epochs,report,geopackage,survey,kerbline,map update,as-built,vectorise,Stapel,Stapelverarbeitung,Projekt,nächtlich,unbeaufsichtigt,alle Layer,Ablauf,Bordstein,Kante,Epochen,Bericht,Vermessung,Bordlinie,Kartenfortführung,Fortführung,Bestandsaufnahme,vektorisieren</translation>
  </message>
 </context>
 <context>
  <name>Quotes</name>
  <message>
   <source>“{}”</source>
   <translation>„{}“</translation>
  </message>
 </context>
 <context>
  <name>ReadNmeaLog</name>
  <message>
   <source>NMEA 0183 logs of a receiver to a layer of epochs, the input of the steps that follow.</source>
   <translation>NMEA-0183-Protokolle eines Empfängers in einen Layer mit Epochen, die Eingabe der weiteren Schritte.</translation>
  </message>
  <message>
   <source>Read NMEA log</source>
   <translation>NMEA-Protokoll lesen</translation>
  </message>
  <message>
   <source>Reads one or many logs of NMEA 0183 sentences from any receiver to one layer of epochs. Each GGA sentence is an epoch: time, WGS 84 position, both heights, fix quality, satellites, HDOP, age of the corrections and reference station. The GST sentence of the same time adds the 1-sigma of the receiver. Other sentences, binary frames and a logger's own text in between do no harm.

GGA has no date. It is taken from the RMC or ZDA sentence nearest in time, before or after, in the same file; midnight is followed through logs of several days. A file that has neither needs “Date”.

Sentences with a wrong or missing checksum, cut off, or with a field that cannot be read are rejected, counted by reason, and listed with file, line and text on request. Every GGA is either an epoch or rejected; epochs without position, time or fix stay, with empty fields, and so do repeated ones: the next step screens them and says so. RMC alone makes no epoch: it has neither height nor fix quality. Such positions are counted in the log.

“sigma_h” is the radial 1-sigma, the root of the summed squares of the latitude and longitude sigmas; the orientation of the error ellipse is not used, as receivers count it from different axes. “Reconstruct edges” finds all fields by itself, the time in “unix_seconds”, which keeps its milliseconds in every version of QGIS.

With corrections the coordinates are on the datum of the reference station, whatever the standard says, and the orthometric height follows the receiver's own geoid model. The position is that of what the receiver was told to reduce to: check the antenna height.</source>
   <translation>Liest ein oder viele Protokolle mit NMEA-0183-Sätzen beliebiger Empfänger in einen Layer mit Epochen. Jeder GGA-Satz ist eine Epoche: Zeit, WGS-84-Position, beide Höhen, Lösungsqualität, Satelliten, HDOP, Korrekturalter und Referenzstation. Der GST-Satz derselben Zeit ergänzt das 1 Sigma des Empfängers. Andere Sätze, Binärdaten und eigener Text eines Aufzeichnungsgeräts dazwischen schaden nicht.

GGA enthält kein Datum. Es wird dem zeitlich nächsten RMC- oder ZDA-Satz davor oder danach in derselben Datei entnommen; Mitternacht wird in mehrtägigen Protokollen berücksichtigt. Eine Datei, die keines von beiden hat, braucht „Datum“.

Sätze mit falscher oder fehlender Prüfsumme, abgeschnittene und solche mit einem unlesbaren Feld werden verworfen, nach Gründen gezählt und auf Wunsch mit Datei, Zeile und Text aufgeführt. Jeder GGA-Satz ist entweder eine Epoche oder verworfen; Epochen ohne Position, Zeit oder Lösung bleiben mit leeren Feldern erhalten, ebenso wiederholte: Der nächste Schritt prüft sie und weist darauf hin. RMC allein ergibt keine Epoche: Es hat weder Höhe noch Lösungsqualität. Solche Positionen werden im Protokoll gezählt.

„sigma_h“ ist das radiale 1 Sigma, die Wurzel der Quadratsumme der Sigmas von Breite und Länge; die Orientierung der Fehlerellipse wird nicht verwendet, da Empfänger sie von verschiedenen Achsen aus zählen. „Kanten rekonstruieren“ erkennt alle Felder von selbst, die Zeit in „unix_seconds“, das seine Millisekunden in jeder QGIS-Version behält.

Mit Korrekturen beziehen sich die Koordinaten auf das Datum der Referenzstation, was immer die Norm sagt, und die orthometrische Höhe folgt dem Geoidmodell des Empfängers. Die Position ist die des Punktes, auf den der Empfänger nach seiner Einstellung reduziert: die Antennenhöhe prüfen.</translation>
  </message>
  <message>
   <source>nmea,0183,log,gga,gst,rmc,zda,gnss,gps,rtk,epochs,import,receiver,survey,gps log</source>
   <translation>nmea,0183,log,gga,gst,rmc,zda,gnss,gps,rtk,epochs,import,receiver,survey,gps log,Protokoll,Epochen,importieren,Empfänger,Vermessung,GPS-Protokoll,GPS-Aufzeichnung</translation>
  </message>
 </context>
 <context>
  <name>ReadyProject</name>
  <message>
   <source>Styles and project cannot be stored in “{}”: {}.</source>
   <translation>Stile und Projekt lassen sich nicht in „{}“ speichern: {}.</translation>
  </message>
 </context>
 <context>
  <name>ReconstructEdges</name>
  <message>
   <source>Reconstruct edges</source>
   <translation>Kanten rekonstruieren</translation>
  </message>
  <message>
   <source>Turns a layer of streamed RTK epochs into edges: one line for each stretch that was walked without a break.

Epochs without position, time or fixed solution, of poor accuracy, and spikes are set aside, each with its reason. Standing still counts as one position. The line breaks at pauses, lost fixes and from capture to capture; a short loss inside one walk is bridged. What two or three epochs alone tell, as a short side at an odd angle, is left open and its epochs are “unconfirmed”: an outlier would look the same. The rest becomes tangents, arcs and sharp corners as far as the noise of the data tells, or a smooth curve where the edge has no such shape; a walk round an island closes. Lines are thinned within the tolerance.

Curve model: “Tangents and arcs” adjusts all elements of an edge together, with common tangents where they join tangentially. “Spline” lays a smooth curve through what tangents and arcs fitted one by one say, and forces no such joints. “Automatic” takes for each edge what explains the epochs at less cost: the sum of squared residuals, in units of their variance, and 6 for each free parameter (a minimum description length).

Edges: LineStringZ in the layer's CRS, with length on the ground, residuals and 1-sigma uncertainty in metres, and why each edge starts and ends; after these, each source field whose values hold along the edges, such as a class or a remark that the crew entered, with the most frequent value. Gaps: a line from rim to rim with the reason. Rejected epochs: every source field, reason and detail. Kept epochs: every source field, edge, chainage and residuals (+ to the right of the edge). Every row read is in exactly one of the two. Writing points takes longer than all the rest: the kept ones are off in the dialogue, and on the command line and in models nothing but the edges is written unless it is asked for. Stations: points along the edges with height, longitudinal slope (+ rising in the direction of the edge) and the 1-sigma uncertainty there.

All settings are in metres, whatever the layer's CRS. Rows may come in any order. Lines with M as time are read vertex by vertex.

The result is of mapping grade: it is no boundary survey, and not for stake-out without a licensed surveyor.</source>
   <translation>Macht aus einem Layer mit RTK-Epochen eines Datenstroms Kanten: eine Linie für jeden Abschnitt, der ohne Unterbrechung begangen wurde.

Epochen ohne Position, Zeit oder fixierte Lösung, solche geringer Genauigkeit und Ausreißer werden ausgesondert, jede mit ihrem Grund. Ein Stillstand zählt als eine Position. Die Linie wird unterbrochen bei Pausen, bei Verlust der festen Lösung und von Aufnahme zu Aufnahme; ein kurzer Verlust innerhalb einer Begehung wird überbrückt. Was nur zwei oder drei Epochen zeigen, etwa eine kurze Seite in ungewöhnlichem Winkel, bleibt offen, und ihre Epochen sind „unconfirmed“: Ein Ausreißer sähe ebenso aus. Der Rest wird zu Geraden, Kreisbögen und scharfen Ecken, soweit es das Rauschen der Daten erkennen lässt, oder zu einer glatten Kurve, wo die Kante keine solche Form hat; eine Begehung rund um eine Insel schließt sich. Linien werden innerhalb der Toleranz ausgedünnt.

Kurvenmodell: „Geraden und Kreisbögen“ gleicht alle Elemente einer Kante gemeinsam aus, mit gemeinsamer Tangente, wo sie tangential anschließen. „Spline“ legt eine glatte Kurve durch das, was einzeln eingepasste Geraden und Kreisbögen ergeben, und erzwingt keine solchen Anschlüsse. „Automatisch“ wählt für jede Kante, was die Epochen mit geringerem Aufwand erklärt: die Summe der Residuenquadrate in Einheiten ihrer Varianz und 6 für jeden freien Parameter (minimale Beschreibungslänge).

Kanten: LineStringZ im KBS des Layers, mit Länge in der Örtlichkeit, Residuen und Unsicherheit (1 Sigma) in Metern und dem Grund, aus dem jede Kante beginnt und endet; danach jedes Feld der Quelle, dessen Werte entlang der Kanten beständig sind, etwa eine Klasse oder eine Bemerkung, die der Messtrupp eingegeben hat, mit dem häufigsten Wert. Lücken: eine Linie von Rand zu Rand mit dem Grund. Verworfene Epochen: alle Felder der Quelle, Grund und Einzelheit. Behaltene Epochen: alle Felder der Quelle, Kante, Stationierung und Residuen (+ rechts der Kante). Jede gelesene Zeile ist in genau einem von beiden. Das Schreiben der Punkte dauert länger als alles Übrige: Die behaltenen sind im Dialog ausgeschaltet, und auf der Befehlszeile und in Modellen werden ohne ausdrückliche Angabe nur die Kanten geschrieben. Stationen: Punkte entlang der Kanten mit Höhe, Längsneigung (+ steigend in Richtung der Kante) und der dortigen Unsicherheit (1 Sigma).

Alle Einstellungen sind in Metern, unabhängig vom KBS des Layers. Zeilen können in beliebiger Reihenfolge stehen. Linien mit M als Zeit werden Stützpunkt für Stützpunkt gelesen.

Das Ergebnis hat Kartiergenauigkeit: Es ist keine Grenzvermessung und ohne befugte Vermessungsstelle nicht zur Absteckung geeignet.</translation>
  </message>
  <message>
   <source>Turns streamed epochs into edges, with gaps, reasons and uncertainty.</source>
   <translation>Macht aus Epochen eines Datenstroms Kanten, mit Lücken, Gründen und Unsicherheit.</translation>
  </message>
  <message>
   <source>curb,kerb,edge,line,linework,gnss,gps,rtk,epochs,points to path,stream,smooth,survey,track,vectorise,vectorize,digitise,kerbline,curbline,gps line cleaning,gps to line,as-built</source>
   <translation>curb,kerb,edge,line,linework,gnss,gps,rtk,epochs,points to path,stream,smooth,survey,track,vectorise,vectorize,digitise,kerbline,curbline,gps line cleaning,gps to line,as-built,Bordstein,Bordlinie,Kante,Linie,Epochen,Punkte zu Linie,Punkte zu Weg,Datenstrom,glätten,Vermessung,Spur,vektorisieren,digitalisieren,GPS-Linie bereinigen,Bestandsaufnahme</translation>
  </message>
 </context>
 <context>
  <name>Repairing</name>
  <message>
   <source>Layer “{}” has no capture “{}” any more.</source>
   <translation>Layer „{}“ hat keine Aufnahme „{}“ mehr.</translation>
  </message>
 </context>
 <context>
  <name>Repairs</name>
  <message>
   <source>Repair “{}” of “{}”, capture “{}”, {}: {} ({}).</source>
   <translation>Reparatur „{}“ von „{}“, Aufnahme „{}“, {}: {} ({}).</translation>
  </message>
  <message>
   <source>Repairs “{}”: field “{}” is missing; it has: {}. Take the layer “repairs” of a folder of results, or a table with the fields {}.</source>
   <translation>Reparaturen „{}“: Feld „{}“ fehlt; vorhanden: {}. Den Layer „repairs“ eines Ergebnisordners verwenden oder eine Tabelle mit den Feldern {}.</translation>
  </message>
  <message>
   <source>its capture layer failed in the last run</source>
   <translation>ihr Aufnahmelayer ist im letzten Lauf fehlgeschlagen</translation>
  </message>
  <message>
   <source>its capture layer was not part of the last run</source>
   <translation>ihr Aufnahmelayer war nicht Teil des letzten Laufs</translation>
  </message>
  <message>
   <source>{} applied, {} lost, {} without effect</source>
   <translation>{} angewendet, {} verloren, {} ohne Wirkung</translation>
  </message>
  <message>
   <source>{} to {}</source>
   <translation>{} bis {}</translation>
  </message>
  <message>
   <source>“kind” is “{}”; it must be one of {}</source>
   <translation>„kind“ ist „{}“; zulässig sind {}</translation>
  </message>
  <message>
   <source>“time” is empty or no number</source>
   <translation>„time“ ist leer oder keine Zahl</translation>
  </message>
  <message>
   <source>“until” must be later than “time”</source>
   <translation>„until“ muss später sein als „time“</translation>
  </message>
  <message>
   <source>“value” is “{}”; it must be one of {}</source>
   <translation>„value“ ist „{}“; zulässig sind {}</translation>
  </message>
  <message>
   <source>“{}” was changed in “{}” while the run was at work. What it holds is as it was; run again.</source>
   <translation>„{}“ wurde in „{}“ geändert, während der Lauf arbeitete. Der Lauf hat daran nichts geändert; erneut ausführen.</translation>
  </message>
 </context>
 <context>
  <name>Report</name>
  <message>
   <source> … and {} more, which stand in the layers.</source>
   <translation> … und {} weitere, die in den Layern stehen.</translation>
  </message>
  <message>
   <source>0.000, not stated</source>
   <translation>0,000, nicht angegeben</translation>
  </message>
  <message>
   <source>1,234.5</source>
   <translation>1.234,5</translation>
  </message>
  <message>
   <source>1-sigma</source>
   <translation>1 Sigma</translation>
  </message>
  <message>
   <source>95 % radius</source>
   <translation>95-%-Radius</translation>
  </message>
  <message>
   <source>95 % within (m)</source>
   <translation>95 % innerhalb (m)</translation>
  </message>
  <message>
   <source>; heights: mean {} m, RMSE {} m</source>
   <translation>; Höhen: Mittel {} m, RMSE {} m</translation>
  </message>
  <message>
   <source>&lt;b&gt;No. {}&lt;/b&gt; Edge {}: maximum {} m at {} m. Band: within the limit.</source>
   <translation>&lt;b&gt;Nr. {}&lt;/b&gt; Kante {}: Maximum {} m bei {} m. Band: innerhalb der Grenze.</translation>
  </message>
  <message>
   <source>A person decided on {} of {} changes, a rule on {} ({}); the others follow from the settings</source>
   <translation>Über {} von {} Änderungen entschied eine Person, über {} eine Regel ({}); die übrigen folgen aus den Einstellungen</translation>
  </message>
  <message>
   <source>A person decided on {} of {} changes; the others follow from the settings</source>
   <translation>Über {} von {} Änderungen entschied eine Person; die übrigen folgen aus den Einstellungen</translation>
  </message>
  <message>
   <source>ASPRS Edition 2 asks for at least {}: enough for the NSSDA only.</source>
   <translation>ASPRS Edition 2 verlangt mindestens {}: nur für den NSSDA ausreichend.</translation>
  </message>
  <message>
   <source>ASPRS Positional Accuracy Standards, Edition 2, Version 2 (2024): the RMSE of the product is √(fit² + check points²); RMSE_3D is √(RMSE_H² + RMSE_V²). At least 30 check points are asked for, twice as accurate as the product.</source>
   <translation>ASPRS Positional Accuracy Standards, Edition 2, Version 2 (2024): Der RMSE des Produkts ist √(Anpassung² + Prüfpunkte²); RMSE_3D ist √(RMSE_H² + RMSE_V²). Verlangt werden mindestens 30 Prüfpunkte, doppelt so genau wie das Produkt.</translation>
  </message>
  <message>
   <source>ASPRS RMSE_3D</source>
   <translation>ASPRS RMSE_3D</translation>
  </message>
  <message>
   <source>ASPRS RMSE_H, check points included</source>
   <translation>ASPRS RMSE_H, Prüfpunkte eingerechnet</translation>
  </message>
  <message>
   <source>ASPRS RMSE_V, check points included</source>
   <translation>ASPRS RMSE_V, Prüfpunkte eingerechnet</translation>
  </message>
  <message>
   <source>Accuracy across the line, 95 %</source>
   <translation>Genauigkeit quer zur Linie, 95 %</translation>
  </message>
  <message>
   <source>Accuracy against check points</source>
   <translation>Genauigkeit an Prüfpunkten</translation>
  </message>
  <message>
   <source>Accuracy of the check points</source>
   <translation>Genauigkeit der Prüfpunkte</translation>
  </message>
  <message>
   <source>Across (m)</source>
   <translation>Quer (m)</translation>
  </message>
  <message>
   <source>Across azimuth {}°</source>
   <translation>Quer zum Azimut {}°</translation>
  </message>
  <message>
   <source>After (m)</source>
   <translation>Nachher (m)</translation>
  </message>
  <message>
   <source>All together</source>
   <translation>Insgesamt</translation>
  </message>
  <message>
   <source>Along azimuth {}°</source>
   <translation>Längs des Azimuts {}°</translation>
  </message>
  <message>
   <source>An offset counts as a displacement only where it is greater than the combined uncertainty of both layers at {} confidence: {}. It is made of the stated uncertainty of the existing lines (1-sigma {} m) and {}</source>
   <translation>Ein Querabstand gilt nur dann als Verschiebung, wenn er größer ist als die gemeinsame Unsicherheit beider Layer beim Vertrauensniveau {}: {}. Sie setzt sich zusammen aus der angegebenen Unsicherheit der Bestandslinien (1 Sigma {} m) und {}</translation>
  </message>
  <message>
   <source>Appendix</source>
   <translation>Anhang</translation>
  </message>
  <message>
   <source>Area</source>
   <translation>Gebiet</translation>
  </message>
  <message>
   <source>Area between the lines</source>
   <translation>Fläche zwischen den Linien</translation>
  </message>
  <message>
   <source>Area between the lines: mean offset without sign for each metre of matched existing line. Hausdorff distance: over the matched stretches, both lines densified.</source>
   <translation>Fläche zwischen den Linien: mittlerer Querabstand ohne Vorzeichen je Meter zugeordneter Bestandslinie. Hausdorff-Abstand: über die zugeordneten Abschnitte, beide Linien verdichtet.</translation>
  </message>
  <message>
   <source>As a whole the existing layer lies {} m towards {} of the edges (1-sigma {} m east, {} m north)</source>
   <translation>Insgesamt liegt der Bestandslayer {} m in Richtung {} neben den Kanten (1 Sigma: Ost {} m, Nord {} m)</translation>
  </message>
  <message>
   <source>At</source>
   <translation>Zeit</translation>
  </message>
  <message>
   <source>At 95 % confidence that is {} m across the lines and {} m in height.</source>
   <translation>Bei 95 % Vertrauensniveau sind das {} m quer zu den Linien und {} m in der Höhe.</translation>
  </message>
  <message>
   <source>At 95 % confidence that is {} m in plan and {} m in height.</source>
   <translation>Bei 95 % Vertrauensniveau sind das {} m in der Lage und {} m in der Höhe.</translation>
  </message>
  <message>
   <source>Author</source>
   <translation>Verfasst von</translation>
  </message>
  <message>
   <source>Before (m)</source>
   <translation>Vorher (m)</translation>
  </message>
  <message>
   <source>CRS</source>
   <translation>KBS</translation>
  </message>
  <message>
   <source>Capture</source>
   <translation>Aufnahme</translation>
  </message>
  <message>
   <source>Captured</source>
   <translation>Aufgenommen</translation>
  </message>
  <message>
   <source>Captures</source>
   <translation>Aufnahmen</translation>
  </message>
  <message>
   <source>Captures of a project</source>
   <translation>Aufnahmen eines Projekts</translation>
  </message>
  <message>
   <source>Cautions</source>
   <translation>Hinweise zur Verwendung</translation>
  </message>
  <message>
   <source>Changes</source>
   <translation>Änderungen</translation>
  </message>
  <message>
   <source>Check point</source>
   <translation>Prüfpunkt</translation>
  </message>
  <message>
   <source>Check points</source>
   <translation>Prüfpunkte</translation>
  </message>
  <message>
   <source>Check points used: {} of {}. RMSE {} m across the lines, {} m in height.</source>
   <translation>Verwendete Prüfpunkte: {} von {}. RMSE {} m quer zu den Linien, {} m in der Höhe.</translation>
  </message>
  <message>
   <source>Check points used: {} of {}. RMSE {} m in plan (radial), {} m in height.</source>
   <translation>Verwendete Prüfpunkte: {} von {}. RMSE {} m in der Lage (radial), {} m in der Höhe.</translation>
  </message>
  <message>
   <source>Check points with a height: {}.</source>
   <translation>Prüfpunkte mit Höhe: {}.</translation>
  </message>
  <message>
   <source>Check points: {}.</source>
   <translation>Prüfpunkte: {}.</translation>
  </message>
  <message>
   <source>Checked</source>
   <translation>Geprüft am</translation>
  </message>
  <message>
   <source>Checked by</source>
   <translation>Geprüft von</translation>
  </message>
  <message>
   <source>Checksums of the geometries</source>
   <translation>Prüfsummen der Geometrien</translation>
  </message>
  <message>
   <source>Compared</source>
   <translation>Verglichen</translation>
  </message>
  <message>
   <source>Comparison with existing lines in short</source>
   <translation>Vergleich mit den Bestandslinien in Kürze</translation>
  </message>
  <message>
   <source>Comparison with existing linework</source>
   <translation>Vergleich mit dem Bestand</translation>
  </message>
  <message>
   <source>Completeness</source>
   <translation>Vollständigkeit</translation>
  </message>
  <message>
   <source>Completeness and correctness: simple buffer method (M. F. Goodchild and G. J. Hunter, A simple positional accuracy measure for linear features, IJGIS 11(3), 1997). In the terms of ISO 19157, what is only new is omission and what is only existing is commission of the existing layer, by length.</source>
   <translation>Vollständigkeit und Korrektheit: einfaches Pufferverfahren (M. F. Goodchild und G. J. Hunter, A simple positional accuracy measure for linear features, IJGIS 11(3), 1997). In den Begriffen der ISO 19157 ist nur Neues ein Fehlen (omission) und nur Vorhandenes ein Überschuss (commission) des Bestandslayers, nach Länge.</translation>
  </message>
  <message>
   <source>Confidence</source>
   <translation>Vertrauensniveau</translation>
  </message>
  <message>
   <source>Control points</source>
   <translation>Festpunkte</translation>
  </message>
  <message>
   <source>Correctness</source>
   <translation>Korrektheit</translation>
  </message>
  <message>
   <source>Count</source>
   <translation>Anzahl</translation>
  </message>
  <message>
   <source>Counts</source>
   <translation>Anzahlen</translation>
  </message>
  <message>
   <source>Date</source>
   <translation>Datum</translation>
  </message>
  <message>
   <source>Day</source>
   <translation>Tag</translation>
  </message>
  <message>
   <source>Days that are off the control points by more than chance: {} of {}.</source>
   <translation>Tage, die stärker als durch Zufall von den Festpunkten abweichen: {} von {}.</translation>
  </message>
  <message>
   <source>Decided</source>
   <translation>Entschieden</translation>
  </message>
  <message>
   <source>Decided by</source>
   <translation>Entschieden von</translation>
  </message>
  <message>
   <source>Displaced with the shift left in: {}; with it taken out: {}.</source>
   <translation>Verschoben mit dem Versatz: {}; ohne ihn: {}.</translation>
  </message>
  <message>
   <source>E</source>
   <translation>O</translation>
  </message>
  <message>
   <source>Each check point is compared with the nearest place on the nearest line, + where the check point lies to the right of the line. That is one signed value, so the factor of the normal distribution applies (1.9600), not the radial ones (2.4477, 1.7308). Points beyond the end of a line are set aside.</source>
   <translation>Jeder Prüfpunkt wird mit der nächsten Stelle der nächsten Linie verglichen, + wo der Prüfpunkt rechts der Linie liegt. Das ist ein einzelner Wert mit Vorzeichen, daher gilt der Faktor der Normalverteilung (1,9600), nicht die radialen (2,4477, 1,7308). Punkte jenseits eines Linienendes bleiben außer Betracht.</translation>
  </message>
  <message>
   <source>East</source>
   <translation>Ost</translation>
  </message>
  <message>
   <source>East (m)</source>
   <translation>Ost (m)</translation>
  </message>
  <message>
   <source>Edge</source>
   <translation>Kante</translation>
  </message>
  <message>
   <source>Edges</source>
   <translation>Kanten</translation>
  </message>
  <message>
   <source>Edges (surveyed)</source>
   <translation>Kanten (aufgenommen)</translation>
  </message>
  <message>
   <source>Edges where they were surveyed, {}; lines are simplified by up to {}. North is that of the edges' CRS.</source>
   <translation>Kanten, wo sie aufgenommen wurden, {}; Linien sind um bis zu {} vereinfacht. Norden ist der des KBS der Kanten.</translation>
  </message>
  <message>
   <source>Epochs read</source>
   <translation>Epochen gelesen</translation>
  </message>
  <message>
   <source>Errors are tested minus check, metres on the ground along the axes of the tested layer's CRS. RMSE divides by the number of points; the mean is not removed.</source>
   <translation>Fehler sind geprüft minus Prüfpunkt, Meter in der Örtlichkeit entlang der Achsen des KBS des geprüften Layers. Der RMSE teilt durch die Anzahl der Punkte; das Mittel ist nicht abgezogen.</translation>
  </message>
  <message>
   <source>Exact 95 % radius of normal errors</source>
   <translation>Exakter 95-%-Radius normalverteilter Fehler</translation>
  </message>
  <message>
   <source>Existing</source>
   <translation>Bestand</translation>
  </message>
  <message>
   <source>Existing layer minus edges</source>
   <translation>Bestandslayer minus Kanten</translation>
  </message>
  <message>
   <source>Existing line</source>
   <translation>Bestandslinie</translation>
  </message>
  <message>
   <source>Existing lines</source>
   <translation>Bestandslinien</translation>
  </message>
  <message>
   <source>Existing lines (judged)</source>
   <translation>Bestandslinien (beurteilt)</translation>
  </message>
  <message>
   <source>Existing lines visited</source>
   <translation>Bestandslinien begangen</translation>
  </message>
  <message>
   <source>Failed</source>
   <translation>Fehler</translation>
  </message>
  <message>
   <source>Finding</source>
   <translation>Befund</translation>
  </message>
  <message>
   <source>From run to run: median sigma of the edges (1-sigma, across), repeatability of merged walks, and the greatest difference of a layer from control points in plan.</source>
   <translation>Von Lauf zu Lauf: Median-Sigma der Kanten (1 Sigma, quer), Wiederholgenauigkeit zusammengeführter Begehungen und größte Lageabweichung eines Layers von den Festpunkten.</translation>
  </message>
  <message>
   <source>Hausdorff distance (m)</source>
   <translation>Hausdorff-Abstand (m)</translation>
  </message>
  <message>
   <source>Height, RMSE (m)</source>
   <translation>Höhe, RMSE (m)</translation>
  </message>
  <message>
   <source>Height, mean (m)</source>
   <translation>Höhe, Mittel (m)</translation>
  </message>
  <message>
   <source>Held back</source>
   <translation>Zurückgestellt</translation>
  </message>
  <message>
   <source>Horizontal errors, tested minus check.</source>
   <translation>Lagefehler, geprüft minus Prüfpunkt.</translation>
  </message>
  <message>
   <source>How far the displaced lines moved as wholes cannot be determined.</source>
   <translation>Wie weit sich die verschobenen Linien als Ganzes bewegt haben, lässt sich nicht bestimmen.</translation>
  </message>
  <message>
   <source>I have looked at the figures and lists of this report and at the data behind them.</source>
   <translation>Ich habe die Abbildungen und Listen dieses Berichts und die Daten dahinter geprüft.</translation>
  </message>
  <message>
   <source>ISO 8601 text</source>
   <translation>Text nach ISO 8601</translation>
  </message>
  <message>
   <source>Identifier</source>
   <translation>Bezeichnung</translation>
  </message>
  <message>
   <source>In many places measuring for others is licensed practice: laws, codes and the road owner's rules where the work was done go before anything on this page.</source>
   <translation>Vielerorts ist das Vermessen für andere eine zulassungspflichtige Tätigkeit: Gesetze, Vorschriften und die Regeln des Straßenbaulastträgers am Ort der Arbeit gehen allem auf dieser Seite vor.</translation>
  </message>
  <message>
   <source>In plan (m)</source>
   <translation>Lage (m)</translation>
  </message>
  <message>
   <source>In short</source>
   <translation>In Kürze</translation>
  </message>
  <message>
   <source>It is not for stake-out. Who sets out or builds from these lines needs a licensed surveyor or engineer who takes responsibility for them under local law.</source>
   <translation>Nicht zur Absteckung. Wer nach diesen Linien absteckt oder baut, braucht eine zugelassene Person der Vermessung oder des Ingenieurwesens, die nach örtlichem Recht die Verantwortung dafür übernimmt.</translation>
  </message>
  <message>
   <source>Julian days</source>
   <translation>julianische Tage</translation>
  </message>
  <message>
   <source>Kept</source>
   <translation>Behalten</translation>
  </message>
  <message>
   <source>Layer</source>
   <translation>Layer</translation>
  </message>
  <message>
   <source>Layers</source>
   <translation>Layer</translation>
  </message>
  <message>
   <source>Layers processed: {} of {}. Edges: {}, {} m on the ground.</source>
   <translation>Verarbeitete Layer: {} von {}. Kanten: {}, {} m in der Örtlichkeit.</translation>
  </message>
  <message>
   <source>Length (m)</source>
   <translation>Länge (m)</translation>
  </message>
  <message>
   <source>Length after (m)</source>
   <translation>Länge nachher (m)</translation>
  </message>
  <message>
   <source>Length before (m)</source>
   <translation>Länge vorher (m)</translation>
  </message>
  <message>
   <source>Length with a counterpart</source>
   <translation>Länge mit Gegenstück</translation>
  </message>
  <message>
   <source>Limit (m)</source>
   <translation>Grenze (m)</translation>
  </message>
  <message>
   <source>Line</source>
   <translation>Linie</translation>
  </message>
  <message>
   <source>Lines</source>
   <translation>Linien</translation>
  </message>
  <message>
   <source>Lines are matched along their length, not feature to feature: by direction, overlap and continuity, within the search distance. One edge may lie along several existing lines and the other way round; the direction of digitising does not matter.</source>
   <translation>Linien werden entlang ihrer Länge zugeordnet, nicht Objekt zu Objekt: nach Richtung, Überlappung und Fortsetzung, innerhalb des Suchabstands. Eine Kante kann an mehreren Bestandslinien entlanglaufen und umgekehrt; die Digitalisierrichtung spielt keine Rolle.</translation>
  </message>
  <message>
   <source>Lines are simplified by up to {} m. North is up. Numbers are those of the lists.</source>
   <translation>Linien sind um bis zu {} m vereinfacht. Norden ist oben. Die Nummern sind die der Listen.</translation>
  </message>
  <message>
   <source>Lines as they are now; simplified by up to {} m. North is that of the edges' CRS. Numbers are those of the lists, and those of a comparison with the same settings.</source>
   <translation>Linien, wie sie jetzt sind; um bis zu {} m vereinfacht. Norden ist der des KBS der Kanten. Die Nummern sind die der Listen und die eines Vergleichs mit denselben Einstellungen.</translation>
  </message>
  <message>
   <source>Lines by status</source>
   <translation>Linien nach Status</translation>
  </message>
  <message>
   <source>Lines that agree lie typically {} m apart over {} (RMSE {} m, 95 % within {} m{}).</source>
   <translation>Übereinstimmende Linien liegen typischerweise {} m auseinander, über {} (RMSE {} m, 95 % innerhalb {} m{}).</translation>
  </message>
  <message>
   <source>Made</source>
   <translation>Erstellt</translation>
  </message>
  <message>
   <source>Map of the check points</source>
   <translation>Karte der Prüfpunkte</translation>
  </message>
  <message>
   <source>Map of the comparison</source>
   <translation>Karte des Vergleichs</translation>
  </message>
  <message>
   <source>Map of the edges</source>
   <translation>Karte der Kanten</translation>
  </message>
  <message>
   <source>Map of the update</source>
   <translation>Karte der Fortführung</translation>
  </message>
  <message>
   <source>Matched</source>
   <translation>Zugeordnet</translation>
  </message>
  <message>
   <source>Matched from, to (m)</source>
   <translation>Zugeordnet von, bis (m)</translation>
  </message>
  <message>
   <source>Matched length (m)</source>
   <translation>Zugeordnete Länge (m)</translation>
  </message>
  <message>
   <source>Max. offset (m)</source>
   <translation>Max. Querabstand (m)</translation>
  </message>
  <message>
   <source>Maximum (m)</source>
   <translation>Maximum (m)</translation>
  </message>
  <message>
   <source>Mean (m)</source>
   <translation>Mittel (m)</translation>
  </message>
  <message>
   <source>Mean {}: {} metres (standard deviation {}). This is no chance: a systematic shift is in the data. Both standards take errors to have no bias; the mean is part of the RMSE.</source>
   <translation>Mittel {}: {} Meter (Standardabweichung {}). Das ist kein Zufall: In den Daten steckt ein systematischer Versatz. Beide Standards setzen Fehler ohne systematischen Anteil voraus; das Mittel ist Teil des RMSE.</translation>
  </message>
  <message>
   <source>Meaning</source>
   <translation>Bedeutung</translation>
  </message>
  <message>
   <source>Median (m)</source>
   <translation>Median (m)</translation>
  </message>
  <message>
   <source>Method and standards</source>
   <translation>Verfahren und Standards</translation>
  </message>
  <message>
   <source>Minimum (m)</source>
   <translation>Minimum (m)</translation>
  </message>
  <message>
   <source>Moved (m)</source>
   <translation>Bewegt (m)</translation>
  </message>
  <message>
   <source>Moved: the shortest rigid motion (translation and rotation) that explains the offsets of a line best, from the existing line to the edge, with the azimuth from north of the edges' CRS towards east. A line that was visited in part is judged on that part.</source>
   <translation>Bewegt: die kürzeste starre Bewegung (Parallelverschiebung und Drehung), die die Querabstände einer Linie am besten erklärt, von der Bestandslinie zur Kante, mit dem Azimut von Norden des KBS der Kanten nach Osten. Eine nur teilweise begangene Linie wird nach diesem Teil beurteilt.</translation>
  </message>
  <message>
   <source>N</source>
   <translation>N</translation>
  </message>
  <message>
   <source>NE</source>
   <translation>NO</translation>
  </message>
  <message>
   <source>NSSDA (FGDC-STD-007.3-1998): horizontal accuracy at 95 % is 1.7308 RMSEr where RMSE east and north are equal, and 2.4477 × ½ (RMSE east + RMSE north) where the smaller is at least 0.6 of the greater. Below that the standard gives no value.</source>
   <translation>NSSDA (FGDC-STD-007.3-1998): Die Lagegenauigkeit bei 95 % ist 1,7308 RMSEr, wenn die RMSE in Ost und Nord gleich sind, und 2,4477 × ½ (RMSE Ost + RMSE Nord), wenn der kleinere mindestens das 0,6-Fache des größeren ist. Darunter gibt der Standard keinen Wert.</translation>
  </message>
  <message>
   <source>NSSDA 95 %</source>
   <translation>NSSDA 95 %</translation>
  </message>
  <message>
   <source>NSSDA horizontal accuracy, 95 %</source>
   <translation>NSSDA-Lagegenauigkeit, 95 %</translation>
  </message>
  <message>
   <source>NSSDA vertical accuracy, 95 %</source>
   <translation>NSSDA-Höhengenauigkeit, 95 %</translation>
  </message>
  <message>
   <source>NW</source>
   <translation>NW</translation>
  </message>
  <message>
   <source>Name</source>
   <translation>Name</translation>
  </message>
  <message>
   <source>No day is off by more than chance.</source>
   <translation>Kein Tag weicht um mehr als den Zufall ab.</translation>
  </message>
  <message>
   <source>No shift was taken out of the layer.</source>
   <translation>Aus dem Layer wurde kein Versatz herausgerechnet.</translation>
  </message>
  <message>
   <source>No uncertainty of the edges was given: it counts as zero, and offsets look more significant than they are.</source>
   <translation>Für die Kanten war keine Unsicherheit angegeben: Sie zählt als null, und Querabstände wirken signifikanter, als sie sind.</translation>
  </message>
  <message>
   <source>No.</source>
   <translation>Nr.</translation>
  </message>
  <message>
   <source>None.</source>
   <translation>Keine.</translation>
  </message>
  <message>
   <source>North</source>
   <translation>Nord</translation>
  </message>
  <message>
   <source>North (m)</source>
   <translation>Nord (m)</translation>
  </message>
  <message>
   <source>Nothing but the shift changed.</source>
   <translation>Außer dem Versatz hat sich nichts geändert.</translation>
  </message>
  <message>
   <source>Nothing is displaced, new or gone.</source>
   <translation>Nichts ist verschoben, neu oder weggefallen.</translation>
  </message>
  <message>
   <source>Nothing is redrawn, added or gone.</source>
   <translation>Nichts wurde neu gezeichnet, hinzugefügt oder als weggefallen gewertet.</translation>
  </message>
  <message>
   <source>Nothing matches: no edge lies within {} m of an existing line that runs its way. Check the CRS of both layers before anything else.</source>
   <translation>Nichts passt zusammen: Keine Kante liegt innerhalb von {} m an einer gleich verlaufenden Bestandslinie. Zuerst das KBS beider Layer prüfen.</translation>
  </message>
  <message>
   <source>Nothing was held back.</source>
   <translation>Nichts wurde zurückgestellt.</translation>
  </message>
  <message>
   <source>Numbers are those of the lists.</source>
   <translation>Die Nummern sind die der Listen.</translation>
  </message>
  <message>
   <source>Numbers are those of the lists; the {} greatest changes have theirs on the map.</source>
   <translation>Die Nummern sind die der Listen; auf der Karte stehen die der {} größten Änderungen.</translation>
  </message>
  <message>
   <source>Of {} ({}), {} and {}. Of {}, {}.</source>
   <translation>Von {} ({}): {} und {}. Von {}: {}.</translation>
  </message>
  <message>
   <source>Of {} epochs {} ({}) were rejected; warnings: {}.</source>
   <translation>Von {} Epochen wurden {} ({}) verworfen; Warnungen: {}.</translation>
  </message>
  <message>
   <source>Off control (mm)</source>
   <translation>Festpunkte (mm)</translation>
  </message>
  <message>
   <source>Offset (m)</source>
   <translation>Querabstand (m)</translation>
  </message>
  <message>
   <source>Offset across the line, height</source>
   <translation>Querabstand, Höhe</translation>
  </message>
  <message>
   <source>Offsets</source>
   <translation>Querabstände</translation>
  </message>
  <message>
   <source>Offsets across a line show nothing of the error along it: this is no horizontal accuracy after the NSSDA, and no RMSE_H after ASPRS. Both need well-defined points, such as corners and ramp ends.</source>
   <translation>Querabstände zeigen nichts vom Fehler längs der Linie: Das ist keine Lagegenauigkeit nach NSSDA und kein RMSE_H nach ASPRS. Beide brauchen gut definierte Punkte, etwa Ecken und Enden von Absenkungen.</translation>
  </message>
  <message>
   <source>Offsets across the lines, + where the check point lies to the right. What lies outside the axis is counted in the last bar.</source>
   <translation>Querabstände der Linien, + wo der Prüfpunkt rechts liegt. Was außerhalb der Achse liegt, ist im letzten Balken gezählt.</translation>
  </message>
  <message>
   <source>Offsets along the worst edges</source>
   <translation>Querabstände entlang der schlechtesten Kanten</translation>
  </message>
  <message>
   <source>Offsets are taken at stations no farther than {} apart, perpendicular to the existing line, + where the edge lies to its right. All figures are metres on the ground; heights are the edge's minus the existing line's, where both have them.</source>
   <translation>Querabstände werden an Stationen in höchstens {} Abstand genommen, rechtwinklig zur Bestandslinie, + wo die Kante rechts von ihr liegt. Alle Zahlen sind Meter in der Örtlichkeit; Höhen sind die der Kante minus die der Bestandslinie, wo beide welche haben.</translation>
  </message>
  <message>
   <source>Offsets by length. What lies outside the axis is counted in the last bar.</source>
   <translation>Querabstände nach Länge. Was außerhalb der Achse liegt, ist im letzten Balken gezählt.</translation>
  </message>
  <message>
   <source>Offsets by status of the existing line</source>
   <translation>Querabstände nach Status der Bestandslinie</translation>
  </message>
  <message>
   <source>Outliers are part of all figures. A point may be left out only where a cause is found, and then the reason belongs into the report.</source>
   <translation>Ausreißer sind in allen Zahlen enthalten. Ein Punkt darf nur wegfallen, wo eine Ursache gefunden ist; der Grund gehört dann in den Bericht.</translation>
  </message>
  <message>
   <source>Outliers: farther from the median than three robust standard deviations (1.4826 times the median deviation, 1 mm at least) in any component.</source>
   <translation>Ausreißer: in einer Komponente weiter vom Median entfernt als drei robuste Standardabweichungen (das 1,4826-Fache der Medianabweichung, mindestens 1 mm).</translation>
  </message>
  <message>
   <source>Over {} of matched line offsets are typically {} m, 95 % within {} m.</source>
   <translation>Über {} zugeordneter Linie betragen die Querabstände typischerweise {} m, 95 % liegen innerhalb {} m.</translation>
  </message>
  <message>
   <source>Page {} of {}</source>
   <translation>Seite {} von {}</translation>
  </message>
  <message>
   <source>Paired by</source>
   <translation>Zugeordnet nach</translation>
  </message>
  <message>
   <source>Plots need the Python package matplotlib, which is not installed here.</source>
   <translation>Diagramme brauchen das Python-Paket matplotlib, das hier nicht installiert ist.</translation>
  </message>
  <message>
   <source>Position, licence number where one is required</source>
   <translation>Funktion, Zulassungsnummer, wo eine verlangt ist</translation>
  </message>
  <message>
   <source>Program</source>
   <translation>Programm</translation>
  </message>
  <message>
   <source>Project</source>
   <translation>Projekt</translation>
  </message>
  <message>
   <source>RMSE (m)</source>
   <translation>RMSE (m)</translation>
  </message>
  <message>
   <source>RMSE across the line with the error of the check points: {} metres (fit {}, check points {} in one direction).</source>
   <translation>RMSE quer zur Linie mit dem Fehler der Prüfpunkte: {} Meter (Anpassung {}, Prüfpunkte {} in einer Richtung).</translation>
  </message>
  <message>
   <source>RMSE across, check points included</source>
   <translation>RMSE quer, Prüfpunkte eingerechnet</translation>
  </message>
  <message>
   <source>RMSE east and north differ (ratio {}): the NSSDA's approximation, 2.4477 × ½ (RMSE east + RMSE north), is optimistic then; the exact radius is {} metres.</source>
   <translation>Die RMSE in Ost und Nord sind verschieden (Verhältnis {}): Die Näherung des NSSDA, 2,4477 × ½ (RMSE Ost + RMSE Nord), ist dann zu günstig; der exakte Radius ist {} Meter.</translation>
  </message>
  <message>
   <source>RMSE radial</source>
   <translation>RMSE radial</translation>
  </message>
  <message>
   <source>Rejected</source>
   <translation>Verworfen</translation>
  </message>
  <message>
   <source>Remove shift</source>
   <translation>Versatz herausrechnen</translation>
  </message>
  <message>
   <source>Repair</source>
   <translation>Reparatur</translation>
  </message>
  <message>
   <source>Repairs</source>
   <translation>Reparaturen</translation>
  </message>
  <message>
   <source>Repeatability (mm)</source>
   <translation>Wiederholung (mm)</translation>
  </message>
  <message>
   <source>Reservations</source>
   <translation>Vorbehalte</translation>
  </message>
  <message>
   <source>Result by status</source>
   <translation>Ergebnis nach Status</translation>
  </message>
  <message>
   <source>Results in {}</source>
   <translation>Ergebnisse in {}</translation>
  </message>
  <message>
   <source>Revision</source>
   <translation>Revision</translation>
  </message>
  <message>
   <source>Robust spread (m)</source>
   <translation>Robuste Streuung (m)</translation>
  </message>
  <message>
   <source>Robust spread (“typically”): 1.4826 times the median offset without sign, which is what the RMSE would be without the lines that really moved.</source>
   <translation>Robuste Streuung („typischerweise“): das 1,4826-Fache des Medians der Querabstände ohne Vorzeichen; so groß wäre der RMSE ohne die Linien, die sich wirklich bewegt haben.</translation>
  </message>
  <message>
   <source>Rotation (″)</source>
   <translation>Drehung (″)</translation>
  </message>
  <message>
   <source>Rows</source>
   <translation>Zeilen</translation>
  </message>
  <message>
   <source>Run</source>
   <translation>Lauf</translation>
  </message>
  <message>
   <source>Runs so far</source>
   <translation>Bisherige Läufe</translation>
  </message>
  <message>
   <source>S</source>
   <translation>S</translation>
  </message>
  <message>
   <source>SE</source>
   <translation>SO</translation>
  </message>
  <message>
   <source>SW</source>
   <translation>SW</translation>
  </message>
  <message>
   <source>Scale (ppm)</source>
   <translation>Maßstab (ppm)</translation>
  </message>
  <message>
   <source>Search distance</source>
   <translation>Suchabstand</translation>
  </message>
  <message>
   <source>Settings</source>
   <translation>Einstellungen</translation>
  </message>
  <message>
   <source>Share</source>
   <translation>Anteil</translation>
  </message>
  <message>
   <source>Share of the matched length</source>
   <translation>Anteil der zugeordneten Länge</translation>
  </message>
  <message>
   <source>Share of the matched length within an offset, with the line of 95 %.</source>
   <translation>Anteil der zugeordneten Länge innerhalb eines Querabstands, mit der Linie bei 95 %.</translation>
  </message>
  <message>
   <source>Shift of the whole layer</source>
   <translation>Versatz des ganzen Layers</translation>
  </message>
  <message>
   <source>Shift: robust least squares on the normals of the lines, so that lines which really moved do not spoil it; lines, not stations, count as independent.</source>
   <translation>Versatz: robuste kleinste Quadrate auf den Normalen der Linien, damit wirklich bewegte Linien ihn nicht verderben; als unabhängig zählen Linien, nicht Stationen.</translation>
  </message>
  <message>
   <source>Sigma (mm)</source>
   <translation>Sigma (mm)</translation>
  </message>
  <message>
   <source>Signature</source>
   <translation>Unterschrift</translation>
  </message>
  <message>
   <source>Significance: the limit at each station is the normal quantile at the chosen confidence times the combined 1-sigma of both lines, √(edge² + existing²). An offset is one signed value, so factors of the one-dimensional normal distribution apply (1.9600 at 95 %). Among many lines a few pass the limit by chance: lines are called displaced only as far as such finds stay below one minus the confidence of all so called (Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57, 1995).</source>
   <translation>Signifikanz: Die Grenze an jeder Station ist das Quantil der Normalverteilung beim gewählten Vertrauensniveau mal dem gemeinsamen Sigma beider Linien, √(Kante² + Bestand²). Ein Querabstand ist ein einzelner Wert mit Vorzeichen, daher gelten die Faktoren der eindimensionalen Normalverteilung (1,9600 bei 95 %). Unter vielen Linien überschreiten einige die Grenze durch Zufall: Linien heißen nur so weit verschoben, dass solche Funde unter eins minus Vertrauensniveau aller so bezeichneten bleiben (Y. Benjamini und Y. Hochberg, J. R. Stat. Soc. B 57, 1995).</translation>
  </message>
  <message>
   <source>Standard deviation (m)</source>
   <translation>Standardabweichung (m)</translation>
  </message>
  <message>
   <source>Standard deviation, n − 1 (m)</source>
   <translation>Standardabweichung, n − 1 (m)</translation>
  </message>
  <message>
   <source>Started</source>
   <translation>Begonnen</translation>
  </message>
  <message>
   <source>State</source>
   <translation>Zustand</translation>
  </message>
  <message>
   <source>Statements after the standards</source>
   <translation>Aussagen nach den Standards</translation>
  </message>
  <message>
   <source>Station spacing</source>
   <translation>Stationsabstand</translation>
  </message>
  <message>
   <source>Stations</source>
   <translation>Stationen</translation>
  </message>
  <message>
   <source>Statistics</source>
   <translation>Statistik</translation>
  </message>
  <message>
   <source>Status</source>
   <translation>Status</translation>
  </message>
  <message>
   <source>Stretches that nobody walked keep the accuracy that they had.</source>
   <translation>Abschnitte, die niemand begangen hat, behalten ihre bisherige Genauigkeit.</translation>
  </message>
  <message>
   <source>Surveyed area</source>
   <translation>Aufgenommenes Gebiet</translation>
  </message>
  <message>
   <source>Test value {}, limit {} at {} confidence (F, {} and {} degrees of freedom): {}. Estimated from {} lines, {} of {}; what really moved has little or no weight.</source>
   <translation>Testwert {}, Grenze {} beim Vertrauensniveau {} (F, {} und {} Freiheitsgrade): {}. Geschätzt aus {} Linien, {} von {}; was sich wirklich bewegt hat, hat wenig oder kein Gewicht.</translation>
  </message>
  <message>
   <source>Tested</source>
   <translation>Geprüft</translation>
  </message>
  <message>
   <source>Tested horizontal positional accuracy, RMSE_H: {} metres (fit to check points {}, check points {}).</source>
   <translation>Geprüfte horizontale Lagegenauigkeit, RMSE_H: {} Meter (Anpassung an die Prüfpunkte {}, Prüfpunkte {}).</translation>
  </message>
  <message>
   <source>Tested lines</source>
   <translation>Geprüfte Linien</translation>
  </message>
  <message>
   <source>Tested minus check</source>
   <translation>Geprüft minus Prüfpunkt</translation>
  </message>
  <message>
   <source>Tested points</source>
   <translation>Geprüfte Punkte</translation>
  </message>
  <message>
   <source>Tested three-dimensional positional accuracy, RMSE_3D: {} metres.</source>
   <translation>Geprüfte dreidimensionale Genauigkeit, RMSE_3D: {} Meter.</translation>
  </message>
  <message>
   <source>Tested vertical positional accuracy, RMSE_V: {} metres (fit to check points {}, check points {}).</source>
   <translation>Geprüfte Höhengenauigkeit, RMSE_V: {} Meter (Anpassung an die Prüfpunkte {}, Prüfpunkte {}).</translation>
  </message>
  <message>
   <source>Tested {} metres accuracy across the line at 95 % confidence level (1.9600 × RMSE: an offset across a line is one value, so the factor of the normal distribution is the right one).</source>
   <translation>Geprüft: {} Meter Genauigkeit quer zur Linie bei 95 % Vertrauensniveau (1,9600 × RMSE: Ein Querabstand ist ein einzelner Wert, daher ist der Faktor der Normalverteilung der richtige).</translation>
  </message>
  <message>
   <source>Tested {} metres horizontal accuracy at 95 % confidence level.</source>
   <translation>Geprüft: {} Meter Lagegenauigkeit bei 95 % Vertrauensniveau.</translation>
  </message>
  <message>
   <source>Tested {} metres vertical accuracy at 95 % confidence level.</source>
   <translation>Geprüft: {} Meter Höhengenauigkeit bei 95 % Vertrauensniveau.</translation>
  </message>
  <message>
   <source>The NSSDA asks for at least {}, ASPRS Edition 2 for at least {}: too few to state an accuracy after either.</source>
   <translation>Der NSSDA verlangt mindestens {}, ASPRS Edition 2 mindestens {}: zu wenige, um nach einem von beiden eine Genauigkeit anzugeben.</translation>
  </message>
  <message>
   <source>The NSSDA gives no horizontal accuracy here: RMSE east and north are {} and {} metres, a ratio of {}, and its approximation ends at 0.6. The radius that holds 95 % of normal errors with these RMSEs is {} metres.</source>
   <translation>Der NSSDA gibt hier keine Lagegenauigkeit: Die RMSE in Ost und Nord sind {} und {} Meter, ein Verhältnis von {}, und seine Näherung endet bei 0,6. Der Radius, der 95 % normalverteilter Fehler mit diesen RMSE enthält, ist {} Meter.</translation>
  </message>
  <message>
   <source>The check points ({} RMSE {} metres) are not twice as accurate as what is tested ({}): much of the error found may be their own.</source>
   <translation>Die Prüfpunkte (RMSE {} {} Meter) sind nicht doppelt so genau wie das Geprüfte ({}): Ein großer Teil des gefundenen Fehlers kann ihr eigener sein.</translation>
  </message>
  <message>
   <source>The edges, simplified by up to {} m. North is that of their CRS.</source>
   <translation>Die Kanten, um bis zu {} m vereinfacht. Norden ist der ihres KBS.</translation>
  </message>
  <message>
   <source>The first {} of {} are listed.</source>
   <translation>Aufgeführt sind die ersten {} von {}.</translation>
  </message>
  <message>
   <source>The first {} of {} {} are listed; the others stand in the layers.</source>
   <translation>Aufgeführt sind die ersten {} von {}: {}; das Übrige steht in den Layern.</translation>
  </message>
  <message>
   <source>The greatest changes</source>
   <translation>Die größten Änderungen</translation>
  </message>
  <message>
   <source>The greatest errors</source>
   <translation>Die größten Fehler</translation>
  </message>
  <message>
   <source>The last {} of {} runs.</source>
   <translation>Die letzten {} von {} Läufen.</translation>
  </message>
  <message>
   <source>The lines all run one way (azimuth {}°), so a shift along it is undetermined. Across it the existing layer lies {} m to the right (1-sigma {} m)</source>
   <translation>Die Linien verlaufen alle in einer Richtung (Azimut {}°), daher ist ein Versatz längs davon unbestimmt. Quer dazu liegt der Bestandslayer {} m rechts (1 Sigma {} m)</translation>
  </message>
  <message>
   <source>The plot needs the Python package matplotlib, which is not installed here.</source>
   <translation>Das Diagramm braucht das Python-Paket matplotlib, das hier nicht installiert ist.</translation>
  </message>
  <message>
   <source>The table of changes takes this update back as long as the lines are as it left them.</source>
   <translation>Mit der Tabelle der Änderungen lässt sich diese Fortführung zurücknehmen, solange die Linien so sind, wie sie sie hinterlassen hat.</translation>
  </message>
  <message>
   <source>The uncertainty of the existing lines ({} m) is an assumption of whoever ran the comparison. Everything that is called displaced rests on it.</source>
   <translation>Die Unsicherheit der Bestandslinien ({} m) ist eine Annahme dessen, der den Vergleich gerechnet hat. Alles, was verschoben heißt, beruht auf ihr.</translation>
  </message>
  <message>
   <source>The uncertainty stated is that of the fit and of the receiver's noise. A wrong base position or antenna height, a pole out of plumb or a datum mixed up moves all lines alike. Only check points from an independent survey show it.</source>
   <translation>Die angegebene Unsicherheit ist die der Anpassung und des Empfängerrauschens. Eine falsche Basisposition oder Antennenhöhe, ein schiefer Stab oder ein verwechseltes Datum verschieben alle Linien gleich. Das zeigen nur Prüfpunkte aus einer unabhängigen Vermessung.</translation>
  </message>
  <message>
   <source>The whole layer was moved by {} m towards {}: a significant shift was taken out.</source>
   <translation>Der ganze Layer wurde um {} m in Richtung {} versetzt: Ein signifikanter Versatz wurde herausgerechnet.</translation>
  </message>
  <message>
   <source>The {} accuracy of the check points is not stated: it counts as zero, which flatters the result.</source>
   <translation>Die Genauigkeit der Prüfpunkte ({}) ist nicht angegeben: Sie zählt als null, was das Ergebnis beschönigt.</translation>
  </message>
  <message>
   <source>This is a comparison of mapping grade. It is not a boundary survey, not a legal description and not an as-built certificate.</source>
   <translation>Dies ist ein Vergleich in Kartiergenauigkeit. Er ist keine Grenzvermessung, keine rechtliche Beschreibung und kein Bestandsnachweis.</translation>
  </message>
  <message>
   <source>Towards</source>
   <translation>Richtung</translation>
  </message>
  <message>
   <source>Transformed</source>
   <translation>Transformiert</translation>
  </message>
  <message>
   <source>Uncertainty of edges</source>
   <translation>Unsicherheit der Kanten</translation>
  </message>
  <message>
   <source>Uncertainty of existing lines</source>
   <translation>Unsicherheit der Bestandslinien</translation>
  </message>
  <message>
   <source>Up (m)</source>
   <translation>Höhe (m)</translation>
  </message>
  <message>
   <source>Update of existing linework</source>
   <translation>Fortführung des Bestands</translation>
  </message>
  <message>
   <source>Updated</source>
   <translation>Fortgeführt am</translation>
  </message>
  <message>
   <source>Vertical accuracy at 95 % after the NSSDA is 1.9600 RMSE. At least 20 well-defined check points from an independent source of higher accuracy are asked for.</source>
   <translation>Die Höhengenauigkeit bei 95 % nach NSSDA ist 1,9600 RMSE. Verlangt werden mindestens 20 gut definierte Prüfpunkte aus einer unabhängigen Quelle höherer Genauigkeit.</translation>
  </message>
  <message>
   <source>Visited</source>
   <translation>Begangen</translation>
  </message>
  <message>
   <source>W</source>
   <translation>W</translation>
  </message>
  <message>
   <source>Warnings</source>
   <translation>Warnungen</translation>
  </message>
  <message>
   <source>What</source>
   <translation>Was</translation>
  </message>
  <message>
   <source>What became of it</source>
   <translation>Was daraus wurde</translation>
  </message>
  <message>
   <source>What changed</source>
   <translation>Was sich geändert hat</translation>
  </message>
  <message>
   <source>What followed</source>
   <translation>Was folgte</translation>
  </message>
  <message>
   <source>What matters most</source>
   <translation>Was am wichtigsten ist</translation>
  </message>
  <message>
   <source>What was compared</source>
   <translation>Was verglichen wurde</translation>
  </message>
  <message>
   <source>What was compared, and how</source>
   <translation>Was verglichen wurde und wie</translation>
  </message>
  <message>
   <source>What was used</source>
   <translation>Was verwendet wurde</translation>
  </message>
  <message>
   <source>What was written</source>
   <translation>Was geschrieben wurde</translation>
  </message>
  <message>
   <source>Where</source>
   <translation>Wo</translation>
  </message>
  <message>
   <source>Whether the existing layer as a whole is shifted cannot be determined from these lines.</source>
   <translation>Ob der Bestandslayer als Ganzes versetzt ist, lässt sich aus diesen Linien nicht bestimmen.</translation>
  </message>
  <message>
   <source>Whether the existing layer as a whole is shifted cannot be determined: {}</source>
   <translation>Ob der Bestandslayer als Ganzes versetzt ist, lässt sich nicht bestimmen: {}</translation>
  </message>
  <message>
   <source>Why</source>
   <translation>Warum</translation>
  </message>
  <message>
   <source>Why layers failed</source>
   <translation>Warum Layer fehlschlugen</translation>
  </message>
  <message>
   <source>a later repair takes the epoch back in</source>
   <translation>eine spätere Reparatur nimmt die Epoche wieder auf</translation>
  </message>
  <message>
   <source>a line that ends on it would have to follow by {} m</source>
   <translation>eine Linie, die auf ihr endet, müsste um {} m folgen</translation>
  </message>
  <message>
   <source>a person holds it back</source>
   <translation>eine Person hat sie zurückgestellt</translation>
  </message>
  <message>
   <source>a person rejected it</source>
   <translation>eine Person hat sie abgelehnt</translation>
  </message>
  <message>
   <source>across</source>
   <translation>quer</translation>
  </message>
  <message>
   <source>added</source>
   <translation>hinzugefügt</translation>
  </message>
  <message>
   <source>agrees</source>
   <translation>stimmt überein</translation>
  </message>
  <message>
   <source>all</source>
   <translation>alle</translation>
  </message>
  <message>
   <source>all edges are splines</source>
   <translation>alle Kanten sind Splines</translation>
  </message>
  <message>
   <source>all, shift left in</source>
   <translation>alle, Versatz enthalten</translation>
  </message>
  <message>
   <source>all, shift taken out</source>
   <translation>alle, Versatz herausgerechnet</translation>
  </message>
  <message>
   <source>along the edge (m)</source>
   <translation>entlang der Kante (m)</translation>
  </message>
  <message>
   <source>an edge without a counterpart among the existing lines</source>
   <translation>eine Kante ohne Gegenstück unter den Bestandslinien</translation>
  </message>
  <message>
   <source>an end followed a neighbour</source>
   <translation>ein Ende folgte einem Nachbarn</translation>
  </message>
  <message>
   <source>an existing line outside the surveyed area: nothing is said of it</source>
   <translation>eine Bestandslinie außerhalb des aufgenommenen Gebiets: Über sie wird nichts gesagt</translation>
  </message>
  <message>
   <source>an existing line without a counterpart among the edges</source>
   <translation>eine Bestandslinie ohne Gegenstück unter den Kanten</translation>
  </message>
  <message>
   <source>another repair asks for something else there</source>
   <translation>eine andere Reparatur verlangt dort etwas anderes</translation>
  </message>
  <message>
   <source>arc along the stretch</source>
   <translation>Kreisbogen auf dem Abschnitt</translation>
  </message>
  <message>
   <source>as given</source>
   <translation>wie gegeben</translation>
  </message>
  <message>
   <source>as it was</source>
   <translation>wie zuvor</translation>
  </message>
  <message>
   <source>as it was, or moved by the shift alone</source>
   <translation>wie zuvor oder nur um den Versatz bewegt</translation>
  </message>
  <message>
   <source>as judged</source>
   <translation>wie beurteilt</translation>
  </message>
  <message>
   <source>asked for, but none is significant</source>
   <translation>verlangt, aber keiner ist signifikant</translation>
  </message>
  <message>
   <source>at (m)</source>
   <translation>bei (m)</translation>
  </message>
  <message>
   <source>beyond the end of a line</source>
   <translation>jenseits eines Linienendes</translation>
  </message>
  <message>
   <source>break the edge here</source>
   <translation>Kante hier unterbrechen</translation>
  </message>
  <message>
   <source>bridge the gap</source>
   <translation>Lücke überbrücken</translation>
  </message>
  <message>
   <source>carried out</source>
   <translation>ausgeführt</translation>
  </message>
  <message>
   <source>changes</source>
   <translation>Änderungen</translation>
  </message>
  <message>
   <source>check point</source>
   <translation>Prüfpunkt</translation>
  </message>
  <message>
   <source>check point set aside</source>
   <translation>Prüfpunkt außer Betracht</translation>
  </message>
  <message>
   <source>check points</source>
   <translation>Prüfpunkte</translation>
  </message>
  <message>
   <source>corner here</source>
   <translation>Ecke hier</translation>
  </message>
  <message>
   <source>date-time</source>
   <translation>Datum mit Uhrzeit</translation>
  </message>
  <message>
   <source>day is off</source>
   <translation>Tag weicht ab</translation>
  </message>
  <message>
   <source>days</source>
   <translation>Tage</translation>
  </message>
  <message>
   <source>days since 1899-12-30, as in spreadsheets</source>
   <translation>Tage seit 1899-12-30, wie in Tabellenkalkulationen</translation>
  </message>
  <message>
   <source>days since 1970</source>
   <translation>Tage seit 1970</translation>
  </message>
  <message>
   <source>days since the year 0</source>
   <translation>Tage seit dem Jahr 0</translation>
  </message>
  <message>
   <source>days, or parts of a day, from an origin of their own</source>
   <translation>Tage oder Teile eines Tages von einem eigenen Nullpunkt an</translation>
  </message>
  <message>
   <source>deleted</source>
   <translation>gelöscht</translation>
  </message>
  <message>
   <source>digits hhmmss, without a date</source>
   <translation>Ziffern hhmmss, ohne Datum</translation>
  </message>
  <message>
   <source>digits yyyymmddhhmm</source>
   <translation>Ziffern JJJJMMTThhmm</translation>
  </message>
  <message>
   <source>digits yyyymmddhhmmss</source>
   <translation>Ziffern JJJJMMTThhmmss</translation>
  </message>
  <message>
   <source>digits yyyymmddhhmmssfff</source>
   <translation>Ziffern JJJJMMTThhmmssfff</translation>
  </message>
  <message>
   <source>displaced</source>
   <translation>verschoben</translation>
  </message>
  <message>
   <source>done</source>
   <translation>fertig</translation>
  </message>
  <message>
   <source>east</source>
   <translation>Ost</translation>
  </message>
  <message>
   <source>east (m), tested minus check</source>
   <translation>Ost (m), geprüft minus Prüfpunkt</translation>
  </message>
  <message>
   <source>edges</source>
   <translation>Kanten</translation>
  </message>
  <message>
   <source>edges {}, existing lines {}</source>
   <translation>Kanten {}, Bestandslinien {}</translation>
  </message>
  <message>
   <source>en</source>
   <translation>de</translation>
  </message>
  <message>
   <source>epochs rejected</source>
   <translation>Epochen verworfen</translation>
  </message>
  <message>
   <source>existing line of another status</source>
   <translation>Bestandslinie mit anderem Status</translation>
  </message>
  <message>
   <source>existing lines</source>
   <translation>Bestandslinien</translation>
  </message>
  <message>
   <source>existing lines as given, the shift still in them</source>
   <translation>Bestandslinien wie gegeben, der Versatz noch enthalten</translation>
  </message>
  <message>
   <source>existing lines as the layer shows them</source>
   <translation>Bestandslinien, wie der Layer sie zeigt</translation>
  </message>
  <message>
   <source>failed</source>
   <translation>fehlgeschlagen</translation>
  </message>
  <message>
   <source>fine</source>
   <translation>in Ordnung</translation>
  </message>
  <message>
   <source>free form along the stretch</source>
   <translation>freie Form auf dem Abschnitt</translation>
  </message>
  <message>
   <source>has a counterpart, and lies no farther from it than the uncertainty of both allows</source>
   <translation>hat ein Gegenstück und liegt nicht weiter davon entfernt, als die Unsicherheit beider zulässt</translation>
  </message>
  <message>
   <source>has a counterpart, but lies farther from it than the uncertainty of both allows</source>
   <translation>hat ein Gegenstück, liegt aber weiter davon entfernt, als die Unsicherheit beider zulässt</translation>
  </message>
  <message>
   <source>held back</source>
   <translation>zurückgestellt</translation>
  </message>
  <message>
   <source>horizontal</source>
   <translation>horizontal</translation>
  </message>
  <message>
   <source>horizontal RMSE (radial) {}, vertical RMSE {}</source>
   <translation>RMSE horizontal (radial) {}, RMSE vertikal {}</translation>
  </message>
  <message>
   <source>identifier</source>
   <translation>Kennung</translation>
  </message>
  <message>
   <source>it waits for a decision</source>
   <translation>sie wartet auf eine Entscheidung</translation>
  </message>
  <message>
   <source>it would cross another line</source>
   <translation>sie würde eine andere Linie kreuzen</translation>
  </message>
  <message>
   <source>it would cross another line, or itself</source>
   <translation>sie würde eine andere Linie oder sich selbst kreuzen</translation>
  </message>
  <message>
   <source>it would cross itself</source>
   <translation>sie würde sich selbst kreuzen</translation>
  </message>
  <message>
   <source>its epoch is gone</source>
   <translation>ihre Epoche ist nicht mehr da</translation>
  </message>
  <message>
   <source>layer failed</source>
   <translation>Layer fehlgeschlagen</translation>
  </message>
  <message>
   <source>leave out the epoch</source>
   <translation>Epoche weglassen</translation>
  </message>
  <message>
   <source>length of existing line (m)</source>
   <translation>Länge der Bestandslinie (m)</translation>
  </message>
  <message>
   <source>less than four fifths of it are of one kind: matched in part, or displaced in part</source>
   <translation>weniger als vier Fünftel davon sind von einer Art: teils zugeordnet oder teils verschoben</translation>
  </message>
  <message>
   <source>lies within (m)</source>
   <translation>liegt innerhalb (m)</translation>
  </message>
  <message>
   <source>line by line, from the layer</source>
   <translation>Linie für Linie, aus dem Layer</translation>
  </message>
  <message>
   <source>lines: {}, {}, CRS {}</source>
   <translation>Linien: {}, {}, KBS {}</translation>
  </message>
  <message>
   <source>marked as retired</source>
   <translation>als weggefallen gekennzeichnet</translation>
  </message>
  <message>
   <source>matched length within it (%)</source>
   <translation>zugeordnete Länge innerhalb (%)</translation>
  </message>
  <message>
   <source>median sigma</source>
   <translation>Median-Sigma</translation>
  </message>
  <message>
   <source>microseconds since 1970</source>
   <translation>Mikrosekunden seit 1970</translation>
  </message>
  <message>
   <source>milliseconds since 1970</source>
   <translation>Millisekunden seit 1970</translation>
  </message>
  <message>
   <source>modified Julian days</source>
   <translation>modifizierte julianische Tage</translation>
  </message>
  <message>
   <source>moved by the shift alone</source>
   <translation>nur um den Versatz bewegt</translation>
  </message>
  <message>
   <source>nanoseconds since 1970</source>
   <translation>Nanosekunden seit 1970</translation>
  </message>
  <message>
   <source>nearness, within {} m</source>
   <translation>Nähe, innerhalb von {} m</translation>
  </message>
  <message>
   <source>new</source>
   <translation>neu</translation>
  </message>
  <message>
   <source>no</source>
   <translation>nein</translation>
  </message>
  <message>
   <source>no corner here</source>
   <translation>keine Ecke hier</translation>
  </message>
  <message>
   <source>no corner or joint is near the epoch</source>
   <translation>bei der Epoche ist keine Ecke und kein Übergang</translation>
  </message>
  <message>
   <source>no edge goes on over the epoch</source>
   <translation>keine Kante geht über die Epoche hinaus</translation>
  </message>
  <message>
   <source>no edge runs along it, but only {} % of it was visited</source>
   <translation>keine Kante läuft an ihr entlang, aber nur {} % von ihr wurden begangen</translation>
  </message>
  <message>
   <source>no station of the existing lines has a counterpart within the search distance</source>
   <translation>keine Station der Bestandslinien hat innerhalb des Suchabstands ein Gegenstück</translation>
  </message>
  <message>
   <source>no two stations agree on a shift</source>
   <translation>keine zwei Stationen stimmen in einem Versatz überein</translation>
  </message>
  <message>
   <source>none</source>
   <translation>keine</translation>
  </message>
  <message>
   <source>none of the edges, since no uncertainty of theirs was given.</source>
   <translation>keiner der Kanten, da für sie keine Unsicherheit angegeben war.</translation>
  </message>
  <message>
   <source>north</source>
   <translation>Nord</translation>
  </message>
  <message>
   <source>north (m)</source>
   <translation>Nord (m)</translation>
  </message>
  <message>
   <source>not carried out</source>
   <translation>nicht ausgeführt</translation>
  </message>
  <message>
   <source>not checked</source>
   <translation>nicht geprüft</translation>
  </message>
  <message>
   <source>not given, taken as 0</source>
   <translation>nicht angegeben, als 0 genommen</translation>
  </message>
  <message>
   <source>not significant</source>
   <translation>nicht signifikant</translation>
  </message>
  <message>
   <source>not stated</source>
   <translation>nicht angegeben</translation>
  </message>
  <message>
   <source>not visited</source>
   <translation>nicht begangen</translation>
  </message>
  <message>
   <source>nothing would be left of it</source>
   <translation>nichts würde von ihr bleiben</translation>
  </message>
  <message>
   <source>nothing: both layers have one CRS</source>
   <translation>nichts: beide Layer haben dasselbe KBS</translation>
  </message>
  <message>
   <source>off</source>
   <translation>weicht ab</translation>
  </message>
  <message>
   <source>off control</source>
   <translation>Festpunktabweichung</translation>
  </message>
  <message>
   <source>offset (m)</source>
   <translation>Querabstand (m)</translation>
  </message>
  <message>
   <source>offset (m), + to the right of the existing line</source>
   <translation>Querabstand (m), + rechts der Bestandslinie</translation>
  </message>
  <message>
   <source>offset across the line (m)</source>
   <translation>Querabstand zur Linie (m)</translation>
  </message>
  <message>
   <source>offset without sign (m)</source>
   <translation>Querabstand ohne Vorzeichen (m)</translation>
  </message>
  <message>
   <source>offsets</source>
   <translation>Querabstände</translation>
  </message>
  <message>
   <source>only existing</source>
   <translation>nur im Bestand</translation>
  </message>
  <message>
   <source>only new</source>
   <translation>nur neu</translation>
  </message>
  <message>
   <source>outlier</source>
   <translation>Ausreißer</translation>
  </message>
  <message>
   <source>partly matched</source>
   <translation>teils zugeordnet</translation>
  </message>
  <message>
   <source>redrawn</source>
   <translation>neu gezeichnet</translation>
  </message>
  <message>
   <source>repairs</source>
   <translation>Reparaturen</translation>
  </message>
  <message>
   <source>repeatability</source>
   <translation>Wiederholgenauigkeit</translation>
  </message>
  <message>
   <source>replaced</source>
   <translation>ersetzt</translation>
  </message>
  <message>
   <source>replaced in part</source>
   <translation>teils ersetzt</translation>
  </message>
  <message>
   <source>run</source>
   <translation>Lauf</translation>
  </message>
  <message>
   <source>seconds</source>
   <translation>Sekunden</translation>
  </message>
  <message>
   <source>settings</source>
   <translation>Einstellungen</translation>
  </message>
  <message>
   <source>shift removed</source>
   <translation>Versatz herausgerechnet</translation>
  </message>
  <message>
   <source>significant</source>
   <translation>signifikant</translation>
  </message>
  <message>
   <source>take the epoch back in</source>
   <translation>Epoche wieder aufnehmen</translation>
  </message>
  <message>
   <source>taken as gone</source>
   <translation>als weggefallen gewertet</translation>
  </message>
  <message>
   <source>tangent along the stretch</source>
   <translation>Gerade auf dem Abschnitt</translation>
  </message>
  <message>
   <source>tested line</source>
   <translation>geprüfte Linie</translation>
  </message>
  <message>
   <source>text, dates as day.month.year</source>
   <translation>Text, Daten als Tag.Monat.Jahr</translation>
  </message>
  <message>
   <source>text, dates as day/month/year</source>
   <translation>Text, Daten als Tag/Monat/Jahr</translation>
  </message>
  <message>
   <source>text, dates as month/day/year</source>
   <translation>Text, Daten als Monat/Tag/Jahr</translation>
  </message>
  <message>
   <source>text, dates as year/month/day</source>
   <translation>Text, Daten als Jahr/Monat/Tag</translation>
  </message>
  <message>
   <source>that of each edge.</source>
   <translation>der jeder Kante.</translation>
  </message>
  <message>
   <source>the capture has no epoch at that time</source>
   <translation>die Aufnahme hat zu dieser Zeit keine Epoche</translation>
  </message>
  <message>
   <source>the epoch has no usable position</source>
   <translation>die Epoche hat keine brauchbare Position</translation>
  </message>
  <message>
   <source>the epoch is in no edge</source>
   <translation>die Epoche ist in keiner Kante</translation>
  </message>
  <message>
   <source>the epoch is rejected in any case</source>
   <translation>die Epoche wird ohnehin verworfen</translation>
  </message>
  <message>
   <source>the fit gives none there</source>
   <translation>der Ausgleich ergibt dort keinen</translation>
  </message>
  <message>
   <source>the gap is longer than {:.0f} m</source>
   <translation>die Lücke ist länger als {:.0f} m</translation>
  </message>
  <message>
   <source>the line breaks inside the stretch</source>
   <translation>die Linie bricht innerhalb des Abschnitts ab</translation>
  </message>
  <message>
   <source>the line still breaks there for another reason</source>
   <translation>die Linie bricht dort aus einem anderen Grund noch ab</translation>
  </message>
  <message>
   <source>there are too few epochs for it, or on one side of it</source>
   <translation>es gibt dafür oder auf einer Seite davon zu wenige Epochen</translation>
  </message>
  <message>
   <source>there is no such capture</source>
   <translation>eine solche Aufnahme gibt es nicht</translation>
  </message>
  <message>
   <source>ticks of 100 ns since 1601</source>
   <translation>Schritte von 100 ns seit 1601</translation>
  </message>
  <message>
   <source>ticks of 100 ns since the year 1</source>
   <translation>Schritte von 100 ns seit dem Jahr 1</translation>
  </message>
  <message>
   <source>typical limit</source>
   <translation>typische Grenze</translation>
  </message>
  <message>
   <source>undetermined</source>
   <translation>unbestimmt</translation>
  </message>
  <message>
   <source>up</source>
   <translation>Höhe</translation>
  </message>
  <message>
   <source>used</source>
   <translation>verwendet</translation>
  </message>
  <message>
   <source>vertical</source>
   <translation>vertikal</translation>
  </message>
  <message>
   <source>what is new of it would cross another line</source>
   <translation>was an ihr neu ist, würde eine andere Linie kreuzen</translation>
  </message>
  <message>
   <source>what was replaced</source>
   <translation>was ersetzt wurde</translation>
  </message>
  <message>
   <source>without partner</source>
   <translation>ohne Gegenstück</translation>
  </message>
  <message>
   <source>without position</source>
   <translation>ohne Position</translation>
  </message>
  <message>
   <source>yes</source>
   <translation>ja</translation>
  </message>
  <message>
   <source>{} This meets a {} horizontal positional accuracy class.</source>
   <translation>{} Das erfüllt die Klasse {} der horizontalen Lagegenauigkeit.</translation>
  </message>
  <message>
   <source>{} This meets a {} vertical positional accuracy class.</source>
   <translation>{} Das erfüllt die Klasse {} der Höhengenauigkeit.</translation>
  </message>
  <message>
   <source>{} against {}</source>
   <translation>{} gegen {}</translation>
  </message>
  <message>
   <source>{} agree with the edges</source>
   <translation>{} stimmen mit den Kanten überein</translation>
  </message>
  <message>
   <source>{} agrees with the edges</source>
   <translation>{} stimmt mit den Kanten überein</translation>
  </message>
  <message>
   <source>{} are displaced</source>
   <translation>{} sind verschoben</translation>
  </message>
  <message>
   <source>{} are not in the existing layer</source>
   <translation>{} fehlen im Bestandslayer</translation>
  </message>
  <message>
   <source>{} by {}</source>
   <translation>{} durch {}</translation>
  </message>
  <message>
   <source>{} case waits for a person</source>
   <translation>{} Fall wartet auf eine Person</translation>
  </message>
  <message>
   <source>{} cases wait for a person</source>
   <translation>{} Fälle warten auf eine Person</translation>
  </message>
  <message>
   <source>{} check point is an outlier</source>
   <translation>{} Prüfpunkt ist ein Ausreißer</translation>
  </message>
  <message>
   <source>{} check points are outliers</source>
   <translation>{} Prüfpunkte sind Ausreißer</translation>
  </message>
  <message>
   <source>{} displaced line moved by {}.</source>
   <translation>{} verschobene Linie bewegte sich um {}.</translation>
  </message>
  <message>
   <source>{} displaced lines moved by {}.</source>
   <translation>{} verschobene Linien bewegten sich um {}.</translation>
  </message>
  <message>
   <source>{} edge</source>
   <translation>{} Kante</translation>
  </message>
  <message>
   <source>{} edge lies beside a displaced part of an existing line.</source>
   <translation>{} Kante liegt neben einem verschobenen Teil einer Bestandslinie.</translation>
  </message>
  <message>
   <source>{} edges</source>
   <translation>{} Kanten</translation>
  </message>
  <message>
   <source>{} edges lie beside displaced parts of existing lines.</source>
   <translation>{} Kanten liegen neben verschobenen Teilen von Bestandslinien.</translation>
  </message>
  <message>
   <source>{} existing line</source>
   <translation>{} Bestandslinie</translation>
  </message>
  <message>
   <source>{} existing lines</source>
   <translation>{} Bestandslinien</translation>
  </message>
  <message>
   <source>{} has no counterpart</source>
   <translation>{} hat kein Gegenstück</translation>
  </message>
  <message>
   <source>{} have no counterpart</source>
   <translation>{} haben kein Gegenstück</translation>
  </message>
  <message>
   <source>{} is displaced</source>
   <translation>{} ist verschoben</translation>
  </message>
  <message>
   <source>{} is not in the existing layer</source>
   <translation>{} fehlt im Bestandslayer</translation>
  </message>
  <message>
   <source>{} layer failed; “Captures” says why.</source>
   <translation>{} Layer ist fehlgeschlagen; „Aufnahmen“ nennt den Grund.</translation>
  </message>
  <message>
   <source>{} layers failed; “Captures” says why.</source>
   <translation>{} Layer sind fehlgeschlagen; „Aufnahmen“ nennt die Gründe.</translation>
  </message>
  <message>
   <source>{} line was added ({} m)</source>
   <translation>{} Linie wurde hinzugefügt ({} m)</translation>
  </message>
  <message>
   <source>{} line was redrawn as displaced</source>
   <translation>{} Linie wurde als verschoben neu gezeichnet</translation>
  </message>
  <message>
   <source>{} line was taken as gone</source>
   <translation>{} Linie wurde als weggefallen gewertet</translation>
  </message>
  <message>
   <source>{} lines were added ({} m)</source>
   <translation>{} Linien wurden hinzugefügt ({} m)</translation>
  </message>
  <message>
   <source>{} lines were redrawn as displaced</source>
   <translation>{} Linien wurden als verschoben neu gezeichnet</translation>
  </message>
  <message>
   <source>{} lines were taken as gone</source>
   <translation>{} Linien wurden als weggefallen gewertet</translation>
  </message>
  <message>
   <source>{} m typically, {} m at most</source>
   <translation>typischerweise {} m, höchstens {} m</translation>
  </message>
  <message>
   <source>{} match in part</source>
   <translation>{} passen teils</translation>
  </message>
  <message>
   <source>{} matches in part</source>
   <translation>{} passt teils</translation>
  </message>
  <message>
   <source>{} m² for each metre of matched line</source>
   <translation>{} m² je Meter zugeordneter Linie</translation>
  </message>
  <message>
   <source>{} of the edges lie within {} of an existing line</source>
   <translation>{} der Kanten liegen innerhalb von {} um eine Bestandslinie</translation>
  </message>
  <message>
   <source>{} of the existing lines, as far as they were visited, lie within {} of an edge</source>
   <translation>{} der Bestandslinien, soweit sie begangen wurden, liegen innerhalb von {} um eine Kante</translation>
  </message>
  <message>
   <source>{} of them stand with their existing lines.</source>
   <translation>{} davon stehen bei ihren Bestandslinien.</translation>
  </message>
  <message>
   <source>{} of {}</source>
   <translation>{} von {}</translation>
  </message>
  <message>
   <source>{} of {} ({}); warnings: {}</source>
   <translation>{} von {} ({}); Warnungen: {}</translation>
  </message>
  <message>
   <source>{} reservation is stated on the next page</source>
   <translation>{} Vorbehalt steht auf der nächsten Seite</translation>
  </message>
  <message>
   <source>{} reservations are stated on the next page</source>
   <translation>{} Vorbehalte stehen auf der nächsten Seite</translation>
  </message>
  <message>
   <source>{} to {}</source>
   <translation>{} bis {}</translation>
  </message>
  <message>
   <source>{} to {} m</source>
   <translation>{} bis {} m</translation>
  </message>
  <message>
   <source>{} was not visited</source>
   <translation>{} wurde nicht begangen</translation>
  </message>
  <message>
   <source>{} were not visited</source>
   <translation>{} wurden nicht begangen</translation>
  </message>
  <message>
   <source>{} with the status “{}”</source>
   <translation>{} mit dem Status „{}“</translation>
  </message>
  <message>
   <source>{}, 1-sigma across the line</source>
   <translation>{}, 1 Sigma quer zur Linie</translation>
  </message>
  <message>
   <source>{}, as text</source>
   <translation>{}, als Text</translation>
  </message>
  <message>
   <source>{}. That is more than chance, and was taken out before anything was judged.</source>
   <translation>{}. Das ist mehr als Zufall und wurde herausgerechnet, bevor irgendetwas beurteilt wurde.</translation>
  </message>
  <message>
   <source>{}. That is more than chance: a shift of the whole layer. It was not taken out, so part of what counts as displaced below is the shift and no change of the place.</source>
   <translation>{}. Das ist mehr als Zufall: ein Versatz des ganzen Layers. Er wurde nicht herausgerechnet, daher ist ein Teil dessen, was unten als verschoben gilt, der Versatz und keine Änderung vor Ort.</translation>
  </message>
  <message>
   <source>{}. That is no more than chance: there is no shift of the whole layer to speak of.</source>
   <translation>{}. Das ist nicht mehr als Zufall: Ein nennenswerter Versatz des ganzen Layers besteht nicht.</translation>
  </message>
  <message>
   <source>{}: 95 % within {} m</source>
   <translation>{}: 95 % innerhalb {} m</translation>
  </message>
  <message>
   <source>“Only existing” means that no edge was found there although it lies in the surveyed area: the thing may be gone, or it was passed over. Look before lines are deleted. “Not visited” says nothing of a line.</source>
   <translation>„Nur im Bestand“ heißt, dass dort keine Kante gefunden wurde, obwohl die Stelle im aufgenommenen Gebiet liegt: Das Objekt kann verschwunden oder übergangen worden sein. Vor dem Löschen nachsehen. „Nicht begangen“ sagt nichts über eine Linie.</translation>
  </message>
 </context>
 <context>
  <name>ResultFolder</name>
  <message>
   <source>Another run is writing into “{}”. Wait until it has ended, or choose another folder.</source>
   <translation>Ein anderer Lauf schreibt gerade in „{}“. Warten, bis er beendet ist, oder einen anderen Ordner wählen.</translation>
  </message>
  <message>
   <source>Kept from “{}”, as no run wrote them: {}.</source>
   <translation>Aus „{}“ behalten, da kein Lauf sie schrieb: {}.</translation>
  </message>
  <message>
   <source>The disk is full.</source>
   <translation>Der Datenträger ist voll.</translation>
  </message>
  <message>
   <source>The folder “{}” cannot be written to: {}. Choose another one.</source>
   <translation>In den Ordner „{}“ lässt sich nicht schreiben: {}. Einen anderen wählen.</translation>
  </message>
  <message>
   <source>The last run was cut off while it moved its results; its report has been put in place.</source>
   <translation>Der letzte Lauf wurde beim Verschieben seiner Ergebnisse unterbrochen; sein Bericht wurde an seinen Platz gebracht.</translation>
  </message>
  <message>
   <source>The new results are in “{}”, but their report cannot be moved to “{}”: {}. The next run will move it.</source>
   <translation>Die neuen Ergebnisse stehen in „{}“, aber ihr Bericht lässt sich nicht nach „{}“ verschieben: {}. Der nächste Lauf wird ihn verschieben.</translation>
  </message>
  <message>
   <source>The results could not be written to “{}”: {} Make sure that there is room there and that the files there can be read and written to, or choose another folder. What was there before is as it was.</source>
   <translation>Die Ergebnisse konnten nicht nach „{}“ geschrieben werden: {} Sicherstellen, dass dort Platz ist und die dortigen Dateien gelesen und geschrieben werden können, oder einen anderen Ordner wählen. Was vorher dort war, ist unverändert.</translation>
  </message>
  <message>
   <source>{} Move it away, or choose another folder for the results.</source>
   <translation>{} Anderswohin verschieben oder einen anderen Ordner für die Ergebnisse wählen.</translation>
  </message>
  <message>
   <source>“{}” cannot be read as a GeoPackage: {}. Move it away, or choose another folder.</source>
   <translation>„{}“ ist nicht als GeoPackage lesbar: {}. Anderswohin verschieben oder einen anderen Ordner wählen.</translation>
  </message>
  <message>
   <source>“{}” cannot be replaced: {}. If it is open in QGIS or in another program, remove its layers there or close the program, and run again. What it holds is as it was.</source>
   <translation>„{}“ kann nicht ersetzt werden: {}. Falls es in QGIS oder einem anderen Programm geöffnet ist, dort seine Layer entfernen oder das Programm schließen und erneut ausführen. Der Inhalt ist unverändert.</translation>
  </message>
  <message>
   <source>“{}” holds layers that no run of this algorithm wrote, but that have the names of results: {}. Rename them, or choose another folder.</source>
   <translation>„{}“ enthält Layer, die kein Lauf dieses Algorithmus geschrieben hat, die aber wie Ergebnisse heißen: {}. Sie umbenennen oder einen anderen Ordner wählen.</translation>
  </message>
  <message>
   <source>“{}” is a file.</source>
   <translation>„{}“ ist eine Datei.</translation>
  </message>
  <message>
   <source>“{}” is a folder.</source>
   <translation>„{}“ ist ein Ordner.</translation>
  </message>
  <message>
   <source>“{}” is a link to another folder.</source>
   <translation>„{}“ ist eine Verknüpfung zu einem anderen Ordner.</translation>
  </message>
  <message>
   <source>“{}” is a page that no run of this algorithm wrote.</source>
   <translation>„{}“ ist eine Seite, die kein Lauf dieses Algorithmus geschrieben hat.</translation>
  </message>
  <message>
   <source>“{}” is being edited in QGIS or in another program{}. Save or end the editing there, remove its layers if that does not help, and run again. What it holds is as it was.</source>
   <translation>„{}“ wird in QGIS oder einem anderen Programm bearbeitet{}. Dort speichern oder die Bearbeitung beenden, wenn das nicht hilft, seine Layer entfernen, und erneut ausführen. Der Inhalt ist unverändert.</translation>
  </message>
  <message>
   <source>“{}” was changed while the run was at work. What it holds is as it was; run again.</source>
   <translation>„{}“ wurde geändert, während der Lauf arbeitete. Der Lauf hat daran nichts geändert; erneut ausführen.</translation>
  </message>
 </context>
 <context>
  <name>Review</name>
  <message>
   <source>A corner at the chosen epoch</source>
   <translation>Eine Ecke an der gewählten Epoche</translation>
  </message>
  <message>
   <source>A decision here goes to all lines of the day. Look at the control points first: base, antenna height, correction service.</source>
   <translation>Eine Entscheidung hier gilt für alle Linien des Tages. Zuerst die Festpunkte ansehen: Basis, Antennenhöhe, Korrekturdienst.</translation>
  </message>
  <message>
   <source>A smooth joint at the chosen epoch</source>
   <translation>Ein glatter Übergang an der gewählten Epoche</translation>
  </message>
  <message>
   <source>Accept</source>
   <translation>Annehmen</translation>
  </message>
  <message>
   <source>Across (mm)</source>
   <translation>Quer (mm)</translation>
  </message>
  <message>
   <source>Across, right +</source>
   <translation>Quer, rechts +</translation>
  </message>
  <message>
   <source>After</source>
   <translation>Nachher</translation>
  </message>
  <message>
   <source>All captures</source>
   <translation>Aufnahmen</translation>
  </message>
  <message>
   <source>All days</source>
   <translation>Tage</translation>
  </message>
  <message>
   <source>All lines</source>
   <translation>Alle Linien</translation>
  </message>
  <message>
   <source>All reasons</source>
   <translation>Gründe</translation>
  </message>
  <message>
   <source>All states</source>
   <translation>Zustände</translation>
  </message>
  <message>
   <source>Amount</source>
   <translation>Wert</translation>
  </message>
  <message>
   <source>Another end lies within {}.</source>
   <translation>Ein anderes Ende liegt innerhalb von {}.</translation>
  </message>
  <message>
   <source>Arc</source>
   <translation>Bogen</translation>
  </message>
  <message>
   <source>As it was fitted. Sigma across {}.</source>
   <translation>Wie ausgeglichen. Sigma quer {}.</translation>
  </message>
  <message>
   <source>Before</source>
   <translation>Vorher</translation>
  </message>
  <message>
   <source>Break</source>
   <translation>Trennen</translation>
  </message>
  <message>
   <source>Break after</source>
   <translation>Danach trennen</translation>
  </message>
  <message>
   <source>Bridge</source>
   <translation>Überbrücken</translation>
  </message>
  <message>
   <source>Bridge gap</source>
   <translation>Lücke überbrücken</translation>
  </message>
  <message>
   <source>Bridge the gap next to the chosen epoch</source>
   <translation>Die Lücke neben der gewählten Epoche überbrücken</translation>
  </message>
  <message>
   <source>Capture</source>
   <translation>Aufnahme</translation>
  </message>
  <message>
   <source>Chainage (m)</source>
   <translation>Stationierung (m)</translation>
  </message>
  <message>
   <source>Change</source>
   <translation>Änderung</translation>
  </message>
  <message>
   <source>Changes of the update</source>
   <translation>Änderungen der Fortführung</translation>
  </message>
  <message>
   <source>Choose a line of the list to see the evidence behind it.</source>
   <translation>Eine Linie der Liste wählen, um die zugehörigen Belege zu sehen.</translation>
  </message>
  <message>
   <source>Choose an edge: there is nothing to repair in this line.</source>
   <translation>Eine Kante wählen: An dieser Linie gibt es nichts zu reparieren.</translation>
  </message>
  <message>
   <source>Choose an epoch first: click on it, or use the arrow keys in the plot.</source>
   <translation>Zuerst eine Epoche wählen: durch Anklicken oder mit den Pfeiltasten im Diagramm.</translation>
  </message>
  <message>
   <source>Choose an epoch that is used.</source>
   <translation>Eine Epoche wählen, die verwendet wird.</translation>
  </message>
  <message>
   <source>Choose on the map</source>
   <translation>In der Karte wählen</translation>
  </message>
  <message>
   <source>Corner</source>
   <translation>Ecke</translation>
  </message>
  <message>
   <source>Day</source>
   <translation>Tag</translation>
  </message>
  <message>
   <source>Decided</source>
   <translation>Entschieden</translation>
  </message>
  <message>
   <source>Decided again: {}</source>
   <translation>Wieder entschieden: {}</translation>
  </message>
  <message>
   <source>Decided or not</source>
   <translation>Entschieden oder nicht</translation>
  </message>
  <message>
   <source>Decision</source>
   <translation>Entscheidung</translation>
  </message>
  <message>
   <source>Decision: {}.</source>
   <translation>Entscheidung: {}.</translation>
  </message>
  <message>
   <source>Decisions are in temporary layers, which end with the project: {}.</source>
   <translation>Entscheidungen stehen in temporären Layern, die mit dem Projekt enden: {}.</translation>
  </message>
  <message>
   <source>Decisions are saved.</source>
   <translation>Die Entscheidungen sind gespeichert.</translation>
  </message>
  <message>
   <source>Decisions that are not saved yet are taken into account all the same.</source>
   <translation>Noch nicht gespeicherte Entscheidungen werden trotzdem berücksichtigt.</translation>
  </message>
  <message>
   <source>Detail</source>
   <translation>Einzelheit</translation>
  </message>
  <message>
   <source>Disagreements of walks</source>
   <translation>Widersprüche zwischen Begehungen</translation>
  </message>
  <message>
   <source>Edge from existing line, right +</source>
   <translation>Kante gegen Bestandslinie, rechts +</translation>
  </message>
  <message>
   <source>Edges</source>
   <translation>Kanten</translation>
  </message>
  <message>
   <source>Edges as walked, where those above were merged</source>
   <translation>Kanten wie begangen, falls die obigen zusammengeführt wurden</translation>
  </message>
  <message>
   <source>Edges to review</source>
   <translation>Zu prüfende Kanten</translation>
  </message>
  <message>
   <source>End the edge after the chosen epoch</source>
   <translation>Die Kante nach der gewählten Epoche enden lassen</translation>
  </message>
  <message>
   <source>Epochs</source>
   <translation>Epochen</translation>
  </message>
  <message>
   <source>Epochs ({})</source>
   <translation>Epochen ({})</translation>
  </message>
  <message>
   <source>Epochs behind the line</source>
   <translation>Epochen hinter der Linie</translation>
  </message>
  <message>
   <source>Evidence</source>
   <translation>Belege</translation>
  </message>
  <message>
   <source>Evidence against chainage</source>
   <translation>Belege über der Stationierung</translation>
  </message>
  <message>
   <source>Existing lines with their status</source>
   <translation>Bestandslinien mit ihrem Status</translation>
  </message>
  <message>
   <source>Feature</source>
   <translation>Objekt</translation>
  </message>
  <message>
   <source>Fit this walk anew with repairs; nothing is written to the edges before the captures are processed again</source>
   <translation>Diese Begehung mit Reparaturen neu ausgleichen; an den Kanten ändert sich nichts, bevor die Aufnahmen erneut verarbeitet werden</translation>
  </message>
  <message>
   <source>Fitting “{}” anew…</source>
   <translation>„{}“ wird neu ausgeglichen…</translation>
  </message>
  <message>
   <source>Folder of results</source>
   <translation>Ergebnisordner</translation>
  </message>
  <message>
   <source>From before (dashed) to after (solid); hold B to see before</source>
   <translation>Von vorher (gestrichelt) nach nachher (durchgezogen); B gedrückt halten, um vorher zu sehen</translation>
  </message>
  <message>
   <source>From before to after</source>
   <translation>Von vorher nach nachher</translation>
  </message>
  <message>
   <source>Go on to “Update existing linework” with these lines</source>
   <translation>Mit diesen Linien zu „Bestandslinien fortführen“ übergehen</translation>
  </message>
  <message>
   <source>Go to the evidence</source>
   <translation>Zu den Belegen</translation>
  </message>
  <message>
   <source>Go to the list</source>
   <translation>Zur Liste</translation>
  </message>
  <message>
   <source>Height</source>
   <translation>Höhe</translation>
  </message>
  <message>
   <source>Height (m)</source>
   <translation>Höhe (m)</translation>
  </message>
  <message>
   <source>Hold</source>
   <translation>Zurückstellen</translation>
  </message>
  <message>
   <source>How many times its limit the amount is: what puts unlike findings in one order.</source>
   <translation>Das Wievielfache seiner Grenze der Wert ist: So kommen ungleiche Befunde in eine Reihenfolge.</translation>
  </message>
  <message>
   <source>It was a temporary layer.</source>
   <translation>Es war ein temporärer Layer.</translation>
  </message>
  <message>
   <source>Kept epochs</source>
   <translation>Behaltene Epochen</translation>
  </message>
  <message>
   <source>Kept epochs are not shown. Name an output for them in “Reconstruct edges”, or open them here with the edges (first button, “Layers of the project…”).</source>
   <translation>Behaltene Epochen sind nicht zu sehen. In „Kanten rekonstruieren“ eine Ausgabe dafür angeben oder sie hier zusammen mit den Kanten öffnen (erste Schaltfläche, „Layer des Projekts…“).</translation>
  </message>
  <message>
   <source>Layer “{}” does not open for editing.</source>
   <translation>Layer „{}“ lässt sich nicht zum Bearbeiten öffnen.</translation>
  </message>
  <message>
   <source>Layer “{}” refused the repair; it is as it was.</source>
   <translation>Layer „{}“ hat die Reparatur nicht angenommen; er ist, wie er war.</translation>
  </message>
  <message>
   <source>Layers of the project…</source>
   <translation>Layer des Projekts…</translation>
  </message>
  <message>
   <source>Layers to review</source>
   <translation>Zu prüfende Layer</translation>
  </message>
  <message>
   <source>Leave out</source>
   <translation>Weglassen</translation>
  </message>
  <message>
   <source>Leave the chosen epoch out; its reason is kept</source>
   <translation>Die gewählte Epoche weglassen; der Grund bleibt erhalten</translation>
  </message>
  <message>
   <source>Length</source>
   <translation>Länge</translation>
  </message>
  <message>
   <source>Line</source>
   <translation>Linie</translation>
  </message>
  <message>
   <source>Load again</source>
   <translation>Neu laden</translation>
  </message>
  <message>
   <source>Map follows the list</source>
   <translation>Karte folgt der Liste</translation>
  </message>
  <message>
   <source>Mark a stretch first: Shift and the mouse, or the right button.</source>
   <translation>Zuerst eine Strecke markieren: mit Umschalt und der Maus oder mit der rechten Taste.</translation>
  </message>
  <message>
   <source>Mark a stretch with Shift and the mouse, or with Shift and the arrow keys</source>
   <translation>Eine Strecke mit Umschalt und der Maus oder mit Umschalt und den Pfeiltasten markieren</translation>
  </message>
  <message>
   <source>More findings on this line: {}.</source>
   <translation>Weitere Befunde an dieser Linie: {}.</translation>
  </message>
  <message>
   <source>Moved</source>
   <translation>Verschiebung</translation>
  </message>
  <message>
   <source>Next</source>
   <translation>Weiter</translation>
  </message>
  <message>
   <source>No update was made yet. Decide on the lines, then run the update.</source>
   <translation>Es wurde noch keine Fortführung vorgenommen. Zuerst über die Linien entscheiden, dann die Fortführung ausführen.</translation>
  </message>
  <message>
   <source>Nothing is left of this walk with these repairs; undo the last.</source>
   <translation>Mit diesen Reparaturen bleibt von dieser Begehung nichts übrig; die letzte rückgängig machen.</translation>
  </message>
  <message>
   <source>Nothing was found that deserves a look (lines: {}). To see them all the same, tick “{}” in the first filter.</source>
   <translation>Es wurde nichts gefunden, was einen Blick verdient (Linien: {}). Um sie trotzdem zu sehen, im ersten Filter „{}“ anhaken.</translation>
  </message>
  <message>
   <source>Nothing was found that deserves a look.</source>
   <translation>Es wurde nichts gefunden, was eine Prüfung verdient.</translation>
  </message>
  <message>
   <source>Nothing was measured along this line: no epoch, no height, no offset.</source>
   <translation>Entlang dieser Linie wurde nichts gemessen: keine Epoche, keine Höhe, keine Ablage.</translation>
  </message>
  <message>
   <source>Nothing was printed: the printer or the file cannot be opened. Check that the printer is ready, or that the PDF is not open elsewhere, and print again.</source>
   <translation>Es wurde nichts gedruckt: Der Drucker oder die Datei lässt sich nicht öffnen. Prüfen, ob der Drucker bereit ist oder ob das PDF anderswo geöffnet ist, und noch einmal drucken.</translation>
  </message>
  <message>
   <source>Only edges that “Process captures of a project” made can be repaired: its folder of results says how. Run it, then open that folder here.</source>
   <translation>Nur Kanten, die „Aufnahmen eines Projekts verarbeiten“ erzeugt hat, lassen sich reparieren: Sein Ergebnisordner sagt, wie sie entstanden sind. Es ausführen, dann diesen Ordner hier öffnen.</translation>
  </message>
  <message>
   <source>Only the edges must be there; what else is given shows more of the evidence.</source>
   <translation>Nur die Kanten müssen vorhanden sein; was sonst angegeben wird, zeigt mehr von den Belegen.</translation>
  </message>
  <message>
   <source>Open a folder of results, or layers of the project, to begin (first button).</source>
   <translation>Zum Beginnen einen Ergebnisordner oder Layer des Projekts öffnen (erste Schaltfläche).</translation>
  </message>
  <message>
   <source>Open results to review</source>
   <translation>Zu prüfende Ergebnisse öffnen</translation>
  </message>
  <message>
   <source>Other edits of “{}” were undone as well. Redo those edits of the layer first.</source>
   <translation>Auch andere Änderungen an „{}“ wurden rückgängig gemacht. Erst diese Änderungen des Layers wiederherstellen.</translation>
  </message>
  <message>
   <source>Previous</source>
   <translation>Zurück</translation>
  </message>
  <message>
   <source>Print the evidence…</source>
   <translation>Belege drucken…</translation>
  </message>
  <message>
   <source>Process captures of a project</source>
   <translation>Aufnahmen eines Projekts verarbeiten</translation>
  </message>
  <message>
   <source>Progress of the review</source>
   <translation>Fortschritt der Prüfung</translation>
  </message>
  <message>
   <source>Read the list again</source>
   <translation>Liste neu einlesen</translation>
  </message>
  <message>
   <source>Reading the epochs of “{}”…</source>
   <translation>Die Epochen von „{}“ werden gelesen…</translation>
  </message>
  <message>
   <source>Reading…</source>
   <translation>Wird gelesen…</translation>
  </message>
  <message>
   <source>Reason</source>
   <translation>Grund</translation>
  </message>
  <message>
   <source>Reasons shown</source>
   <translation>Gezeigte Gründe</translation>
  </message>
  <message>
   <source>Reasons shown: {}</source>
   <translation>Gezeigte Gründe: {}</translation>
  </message>
  <message>
   <source>Redo the decision</source>
   <translation>Entscheidung wiederherstellen</translation>
  </message>
  <message>
   <source>Reject</source>
   <translation>Ablehnen</translation>
  </message>
  <message>
   <source>Rejected epochs</source>
   <translation>Verworfene Epochen</translation>
  </message>
  <message>
   <source>Remark</source>
   <translation>Bemerkung</translation>
  </message>
  <message>
   <source>Remark (M), Enter to keep</source>
   <translation>Bemerkung (M), mit Enter übernehmen</translation>
  </message>
  <message>
   <source>Remark: {}</source>
   <translation>Bemerkung: {}</translation>
  </message>
  <message>
   <source>Remove the repair</source>
   <translation>Reparatur entfernen</translation>
  </message>
  <message>
   <source>Repair</source>
   <translation>Reparieren</translation>
  </message>
  <message>
   <source>Repair removed</source>
   <translation>Reparatur entfernt</translation>
  </message>
  <message>
   <source>Repair: {}</source>
   <translation>Reparatur: {}</translation>
  </message>
  <message>
   <source>Repairs</source>
   <translation>Reparaturen</translation>
  </message>
  <message>
   <source>Repairs are saved. The next run of the captures carries them out.</source>
   <translation>Reparaturen sind gespeichert. Der nächste Lauf der Aufnahmen führt sie aus.</translation>
  </message>
  <message>
   <source>Repairs of the chosen walk stand here. Switch “Repair” on under the evidence.</source>
   <translation>Hier stehen die Reparaturen der gewählten Begehung. „Reparieren“ unter den Belegen einschalten.</translation>
  </message>
  <message>
   <source>Repairs of this capture</source>
   <translation>Reparaturen dieser Aufnahme</translation>
  </message>
  <message>
   <source>Repairs of this capture: {}. Sigma across {:.1f} mm.</source>
   <translation>Reparaturen dieser Aufnahme: {}. Sigma quer {:.1f} mm.</translation>
  </message>
  <message>
   <source>Results folder…</source>
   <translation>Ergebnisordner…</translation>
  </message>
  <message>
   <source>Review of edges</source>
   <translation>Prüfung der Kanten</translation>
  </message>
  <message>
   <source>Review: fitting a capture anew</source>
   <translation>Prüfung: Aufnahme neu ausgleichen</translation>
  </message>
  <message>
   <source>Review: how the edges were made</source>
   <translation>Prüfung: wie die Kanten entstanden</translation>
  </message>
  <message>
   <source>Review: reading the changes</source>
   <translation>Prüfung: Änderungen werden gelesen</translation>
  </message>
  <message>
   <source>Review: reading the epochs of a capture layer</source>
   <translation>Prüfung: Epochen eines Aufnahmelayers lesen</translation>
  </message>
  <message>
   <source>Review: reading the evidence</source>
   <translation>Prüfung: Belege werden gelesen</translation>
  </message>
  <message>
   <source>Review: reading the list</source>
   <translation>Prüfung: Liste wird gelesen</translation>
  </message>
  <message>
   <source>Role or reason</source>
   <translation>Rolle oder Grund</translation>
  </message>
  <message>
   <source>Save the decisions</source>
   <translation>Entscheidungen speichern</translation>
  </message>
  <message>
   <source>Save the decisions, and other edits that their layers hold</source>
   <translation>Entscheidungen speichern, samt anderen Änderungen in ihren Layern</translation>
  </message>
  <message>
   <source>Show all that deserves a look</source>
   <translation>Alles zeigen, was eine Prüfung verdient</translation>
  </message>
  <message>
   <source>Smooth</source>
   <translation>Glatt</translation>
  </message>
  <message>
   <source>Smooth joint</source>
   <translation>Glatter Übergang</translation>
  </message>
  <message>
   <source>Spline</source>
   <translation>Spline</translation>
  </message>
  <message>
   <source>Stations of the comparison</source>
   <translation>Stationen des Vergleichs</translation>
  </message>
  <message>
   <source>Stations of the edges</source>
   <translation>Stationen der Kanten</translation>
  </message>
  <message>
   <source>Stretch</source>
   <translation>Strecke</translation>
  </message>
  <message>
   <source>Take back</source>
   <translation>Zurückholen</translation>
  </message>
  <message>
   <source>Take back in</source>
   <translation>Wieder aufnehmen</translation>
  </message>
  <message>
   <source>Take the chosen epoch back in, over its reason</source>
   <translation>Die gewählte Epoche trotz ihres Grundes wieder aufnehmen</translation>
  </message>
  <message>
   <source>Take the decision back</source>
   <translation>Entscheidung zurücknehmen</translation>
  </message>
  <message>
   <source>Taken back: {}</source>
   <translation>Zurückgenommen: {}</translation>
  </message>
  <message>
   <source>Tangent</source>
   <translation>Gerade</translation>
  </message>
  <message>
   <source>The capture layer “{}” is not there: {}. Load it into the project.</source>
   <translation>Der Aufnahmelayer „{}“ ist nicht da: {}. Ihn ins Projekt laden.</translation>
  </message>
  <message>
   <source>The edges of that run are not in the project any more.</source>
   <translation>Die Kanten jenes Laufs sind nicht mehr im Projekt.</translation>
  </message>
  <message>
   <source>The filters leave no line. The button beside them shows all that deserves a look.</source>
   <translation>Die Filter lassen keine Linie übrig. Die Schaltfläche daneben zeigt alles, was einen Blick verdient.</translation>
  </message>
  <message>
   <source>The stretch must hold two epochs at least.</source>
   <translation>Die Strecke muss mindestens zwei Epochen enthalten.</translation>
  </message>
  <message>
   <source>There is no evidence for this line: it has no length, or its layer is gone.</source>
   <translation>Zu dieser Linie gibt es keine Belege: Sie hat keine Länge, oder ihr Layer ist nicht mehr vorhanden.</translation>
  </message>
  <message>
   <source>There is no other edge of this capture beyond this end.</source>
   <translation>Jenseits dieses Endes liegt keine weitere Kante dieser Aufnahme.</translation>
  </message>
  <message>
   <source>These results hold no layer of repairs. Process the captures again with this version, then repair.</source>
   <translation>Diese Ergebnisse enthalten keinen Layer für Reparaturen. Die Aufnahmen mit dieser Version erneut verarbeiten, dann reparieren.</translation>
  </message>
  <message>
   <source>This epoch has no time, so that no repair can name it.</source>
   <translation>Diese Epoche hat keine Zeit, so dass keine Reparatur sie benennen kann.</translation>
  </message>
  <message>
   <source>This epoch is in already.</source>
   <translation>Diese Epoche ist bereits enthalten.</translation>
  </message>
  <message>
   <source>Time</source>
   <translation>Zeit</translation>
  </message>
  <message>
   <source>To decide, load it again.</source>
   <translation>Um zu entscheiden, laden Sie ihn erneut.</translation>
  </message>
  <message>
   <source>To keep decisions, right-click the temporary layer: Make Permanent…</source>
   <translation>Um Entscheidungen zu behalten: temporären Layer rechts anklicken, Permanent machen…</translation>
  </message>
  <message>
   <source>Undecided</source>
   <translation>Nicht entschieden</translation>
  </message>
  <message>
   <source>Undo the last decision</source>
   <translation>Letzte Entscheidung rückgängig machen</translation>
  </message>
  <message>
   <source>Up (mm)</source>
   <translation>Vertikal (mm)</translation>
  </message>
  <message>
   <source>Update</source>
   <translation>Fortführung</translation>
  </message>
  <message>
   <source>Update existing linework…</source>
   <translation>Bestandslinien fortführen…</translation>
  </message>
  <message>
   <source>Updated lines</source>
   <translation>Fortgeführte Linien</translation>
  </message>
  <message>
   <source>Walk that is repaired</source>
   <translation>Begehung, die repariert wird</translation>
  </message>
  <message>
   <source>Weighs {:.1f}: every {:.0f} m count for one.</source>
   <translation>Gewicht {:.1f}: je {:.0f} m zählen für eins.</translation>
  </message>
  <message>
   <source>Worklist</source>
   <translation>Arbeitsliste</translation>
  </message>
  <message>
   <source>Write a remark</source>
   <translation>Bemerkung schreiben</translation>
  </message>
  <message>
   <source>accepted</source>
   <translation>angenommen</translation>
  </message>
  <message>
   <source>added</source>
   <translation>hinzugefügt</translation>
  </message>
  <message>
   <source>all of {}</source>
   <translation>ganzer Tag {}</translation>
  </message>
  <message>
   <source>at {:.2f} m, across {}</source>
   <translation>bei {:.2f} m, quer {}</translation>
  </message>
  <message>
   <source>backtrack</source>
   <translation>Rückweg</translation>
  </message>
  <message>
   <source>between ends left open</source>
   <translation>zwischen offen gelassenen Enden</translation>
  </message>
  <message>
   <source>deleted</source>
   <translation>gelöscht</translation>
  </message>
  <message>
   <source>doubtful</source>
   <translation>zweifelhaft</translation>
  </message>
  <message>
   <source>edge {}</source>
   <translation>Kante {}</translation>
  </message>
  <message>
   <source>end followed a neighbour</source>
   <translation>Ende folgte einem Nachbarn</translation>
  </message>
  <message>
   <source>epochs doubtful or unconfirmed</source>
   <translation>zweifelhafte oder unbestätigte Epochen</translation>
  </message>
  <message>
   <source>existing {}</source>
   <translation>Bestand {}</translation>
  </message>
  <message>
   <source>gone</source>
   <translation>weggefallen</translation>
  </message>
  <message>
   <source>height spike</source>
   <translation>Höhenausreißer</translation>
  </message>
  <message>
   <source>left out by a repair</source>
   <translation>durch eine Reparatur weggelassen</translation>
  </message>
  <message>
   <source>marked as retired</source>
   <translation>als historisiert gekennzeichnet</translation>
  </message>
  <message>
   <source>moved</source>
   <translation>verschoben</translation>
  </message>
  <message>
   <source>new</source>
   <translation>neu</translation>
  </message>
  <message>
   <source>no position</source>
   <translation>keine Position</translation>
  </message>
  <message>
   <source>no time</source>
   <translation>keine Zeit</translation>
  </message>
  <message>
   <source>not fixed</source>
   <translation>nicht fixiert</translation>
  </message>
  <message>
   <source>nothing</source>
   <translation>nichts</translation>
  </message>
  <message>
   <source>nothing found</source>
   <translation>nichts gefunden</translation>
  </message>
  <message>
   <source>nothing to decide</source>
   <translation>nichts zu entscheiden</translation>
  </message>
  <message>
   <source>on hold</source>
   <translation>zurückgestellt</translation>
  </message>
  <message>
   <source>poor accuracy</source>
   <translation>geringe Genauigkeit</translation>
  </message>
  <message>
   <source>rejected</source>
   <translation>abgelehnt</translation>
  </message>
  <message>
   <source>repeat</source>
   <translation>Wiederholung</translation>
  </message>
  <message>
   <source>replaced</source>
   <translation>ersetzt</translation>
  </message>
  <message>
   <source>replaced in part</source>
   <translation>teilweise ersetzt</translation>
  </message>
  <message>
   <source>shifted against control points</source>
   <translation>gegen Festpunkte versetzt</translation>
  </message>
  <message>
   <source>shifted with the layer</source>
   <translation>mit dem Layer versetzt</translation>
  </message>
  <message>
   <source>sigma across</source>
   <translation>Sigma quer</translation>
  </message>
  <message>
   <source>single epoch</source>
   <translation>einzelne Epoche</translation>
  </message>
  <message>
   <source>spike</source>
   <translation>Ausreißer</translation>
  </message>
  <message>
   <source>standing</source>
   <translation>Stillstand</translation>
  </message>
  <message>
   <source>the log names no such layer</source>
   <translation>das Protokoll nennt keinen solchen Layer</translation>
  </message>
  <message>
   <source>too short</source>
   <translation>zu kurz</translation>
  </message>
  <message>
   <source>unconfirmed</source>
   <translation>unbestätigt</translation>
  </message>
  <message>
   <source>undecided</source>
   <translation>nicht entschieden</translation>
  </message>
  <message>
   <source>unknown</source>
   <translation>unbekannt</translation>
  </message>
  <message>
   <source>up {}</source>
   <translation>vertikal {}</translation>
  </message>
  <message>
   <source>walks disagree</source>
   <translation>Begehungen widersprechen sich</translation>
  </message>
  <message>
   <source>without counterpart</source>
   <translation>ohne Gegenstück</translation>
  </message>
  <message>
   <source>without effect</source>
   <translation>ohne Wirkung</translation>
  </message>
  <message>
   <source>{:.0f} mm</source>
   <translation>{:.0f} mm</translation>
  </message>
  <message>
   <source>{:.1f} m</source>
   <translation>{:.1f} m</translation>
  </message>
  <message>
   <source>{:.1f} mm</source>
   <translation>{:.1f} mm</translation>
  </message>
  <message>
   <source>{:.1f} times the limit of {}.</source>
   <translation>Das {:.1f}-Fache des Grenzwerts von {}.</translation>
  </message>
  <message>
   <source>{:.1f} times the number from which a line is listed, {:.0f}.</source>
   <translation>Das {:.1f}-Fache der Anzahl, ab der eine Linie aufgeführt wird, {:.0f}.</translation>
  </message>
  <message>
   <source>{:.2f} m</source>
   <translation>{:.2f} m</translation>
  </message>
  <message>
   <source>{} ({} lines)</source>
   <translation>{} ({} Linien)</translation>
  </message>
  <message>
   <source>{} of {} decided</source>
   <translation>{} von {} entschieden</translation>
  </message>
  <message>
   <source>{} reasons</source>
   <translation>{} Gründe</translation>
  </message>
  <message>
   <source>{} without effect: see the list.</source>
   <translation>{} ohne Wirkung: siehe Liste.</translation>
  </message>
  <message>
   <source>{}, not saved yet</source>
   <translation>{}, noch nicht gespeichert</translation>
  </message>
  <message>
   <source>{}: the layer holds other unsaved edits beside decisions. A layer can only be saved as a whole. Save those edits as well?</source>
   <translation>{}: Der Layer enthält neben Entscheidungen andere nicht gespeicherte Änderungen. Ein Layer lässt sich nur als Ganzes speichern. Auch diese Änderungen speichern?</translation>
  </message>
  <message>
   <source>{}: {}.</source>
   <translation>{}: {}.</translation>
  </message>
  <message>
   <source>× limit</source>
   <translation>Faktor</translation>
  </message>
  <message>
   <source>“{}” broke off: {}.</source>
   <translation>„{}“ ist abgebrochen: {}.</translation>
  </message>
  <message>
   <source>“{}” cannot be loaded again from {}.</source>
   <translation>„{}“ kann aus {} nicht neu geladen werden.</translation>
  </message>
  <message>
   <source>“{}” could not be saved: {}.</source>
   <translation>„{}“ konnte nicht gespeichert werden: {}.</translation>
  </message>
  <message>
   <source>“{}” holds no edges to review. It holds: {}.</source>
   <translation>„{}“ enthält keine zu prüfenden Kanten. Vorhanden: {}.</translation>
  </message>
  <message>
   <source>“{}” is not in the project any more.</source>
   <translation>„{}“ ist nicht mehr im Projekt.</translation>
  </message>
  <message>
   <source>“{}” is not there. Choose a folder that “{}” wrote its results to.</source>
   <translation>„{}“ ist nicht vorhanden. Einen Ordner wählen, in den „{}“ seine Ergebnisse geschrieben hat.</translation>
  </message>
  <message>
   <source>“{}” was edited with other tools since the last decision. Undo those edits of the layer first, or choose the line and take its decision back.</source>
   <translation>„{}“ wurde seit der letzten Entscheidung mit anderen Werkzeugen geändert. Erst diese Änderungen des Layers rückgängig machen oder die Linie wählen und ihre Entscheidung zurücknehmen.</translation>
  </message>
  <message>
   <source>“{}” was removed.</source>
   <translation>„{}“ wurde entfernt.</translation>
  </message>
  <message>
   <source>“{}” was stopped.</source>
   <translation>„{}“ wurde angehalten.</translation>
  </message>
 </context>
 <context>
  <name>ReviewReading</name>
  <message>
   <source>Layer “{}” has no line to review.</source>
   <translation>Layer „{}“ hat keine zu prüfende Linie.</translation>
  </message>
 </context>
 <context>
  <name>RevisitTables</name>
  <message>
   <source>edge broke off</source>
   <translation>Kante brach ab</translation>
  </message>
  <message>
   <source>ends left open</source>
   <translation>offen gelassene Enden</translation>
  </message>
  <message>
   <source>epochs rejected</source>
   <translation>Epochen verworfen</translation>
  </message>
  <message>
   <source>existing line displaced</source>
   <translation>Bestandslinie verschoben</translation>
  </message>
  <message>
   <source>gap</source>
   <translation>Lücke</translation>
  </message>
  <message>
   <source>no edge</source>
   <translation>keine Kante</translation>
  </message>
  <message>
   <source>poor heights</source>
   <translation>schlechte Höhen</translation>
  </message>
  <message>
   <source>poor position</source>
   <translation>schlechte Lage</translation>
  </message>
  <message>
   <source>walk off the others</source>
   <translation>Begehung abseits der anderen</translation>
  </message>
  <message>
   <source>walks differ</source>
   <translation>Begehungen unterscheiden sich</translation>
  </message>
 </context>
 <context>
  <name>Revisits</name>
  <message>
   <source>Gathers from the lists of the other algorithms what somebody must go back for, and puts it in walking order. Give any of the layers, one at least; they may have different CRSs. All limits are in metres on the ground.

What counts (field kind): “gap”, a gap of at least the least length and pause; “no_edge”, an existing line, or the part of one, without an edge; “rejected”, so many rejected epochs in a row, by their time and within one capture; “disagreement”, walks that differ; “uncertain” and “uncertain_up”, an edge, or stations in a row, over the limits in plan and in height; “pass_off”, a walk that lies off the others as a whole by more than these limits; “broken_off”, an end of an edge that broke off where no gap tells of it; “left_open”, ends that could not be joined; “displaced”, an existing line elsewhere.

Findings within the cluster distance become one place that names them all. A place lies at a finding, at the middle of its stretch (of stations at the worst), or, on an existing line with an edge along part of it, at the maximum distance from the edges (if these are given). Each finding that passes a limit is in exactly one place; the log counts what does not pass.

Walking order: from the start on to the nearest place, then pieces of the way are turned round as long as that makes it shorter (2-opt). Without a start, it begins at the more western end. Distances are straight: fences, walls and roads are not known. Use the order as a suggestion, and cross roads where it is safe. The order of the rows does not matter.

Places: order, name (number and what), cmt (all kinds, in brief), desc (what and why, in words), kind (the one that weighs most), kinds, reasons (number of findings), metres and seconds (the maximum of them), epochs (rejected), edge_id, capture, leg (straight from the place before). Reasons: a table of all findings, with the order of their place, the layer and feature they come from, and how far away the place is.

GPX: name, cmt and desc are the names that GPX has for them. Write the places to a file that ends in .gpx, and they become waypoints in WGS 84 with these three fields; or export the layer as GPX with EPSG:4326 and only these fields selected. Waypoints are for finding the place, not for measuring.

Safety: places to revisit are often where traffic, parked vehicles or walls were in the way the first time. Follow the law and the road owner's rules: permits, traffic control, high-visibility clothing, training. Face the traffic, have somebody watch it, do not look at a screen while you walk, and leave out a place that cannot be reached safely. The list is of mapping grade, as are the layers it is made from.</source>
   <translation>Sammelt aus den Listen der anderen Algorithmen, wofür jemand noch einmal hinausmuss, und ordnet es in der Reihenfolge des Weges. Beliebige der Layer angeben, mindestens einen; sie können unterschiedliche KBS haben. Alle Grenzwerte sind Meter in der Örtlichkeit.

Was zählt (Feld kind): „gap“, eine Lücke von mindestens der Mindestlänge und Mindestdauer; „no_edge“, eine Bestandslinie oder ein Teil davon ohne Kante; „rejected“, so viele aufeinanderfolgende verworfene Epochen, nach ihrer Zeit und innerhalb einer Aufnahme; „disagreement“, Begehungen, die sich unterscheiden; „uncertain“ und „uncertain_up“, eine Kante oder aufeinanderfolgende Stationen über den Grenzwerten in Lage und Höhe; „pass_off“, eine Begehung, die als Ganzes um mehr als diese Grenzwerte von den anderen abliegt; „broken_off“, ein Kantenende, das abbrach, ohne dass eine Lücke davon zeugt; „left_open“, Enden, die sich nicht verbinden ließen; „displaced“, eine anderswo liegende Bestandslinie.

Befunde innerhalb des Zusammenfassungsabstands werden zu einem Ort, der sie alle nennt. Ein Ort liegt auf einem Befund, in der Mitte seines Abschnitts (bei Stationen an der schlechtesten) oder, auf einer Bestandslinie mit einer Kante an einem Teil davon, im größten Abstand von den Kanten (falls diese angegeben sind). Jeder Befund, der einen Grenzwert überschreitet, steht in genau einem Ort; das Protokoll zählt, was keinen überschreitet.

Reihenfolge des Weges: vom Beginn jeweils zum nächsten Ort, dann werden Teilstücke des Weges umgedreht, solange ihn das verkürzt (2-opt). Ohne angegebenen Beginn startet er am westlicheren Ende. Entfernungen sind Luftlinien: Zäune, Mauern und Straßen sind nicht bekannt. Die Reihenfolge als Vorschlag verstehen und Straßen dort queren, wo es sicher ist. Die Reihenfolge der Zeilen hat keinen Einfluss.

Orte: order, name (Nummer und was), cmt (alle Arten, kurz), desc (was und warum, in Worten), kind (die gewichtigste Art), kinds, reasons (Anzahl der Befunde), metres und seconds (jeweils deren Maximum), epochs (verworfene), edge_id, capture, leg (Luftlinie vom vorigen Ort). Gründe: eine Tabelle aller Befunde mit der Reihenfolgenummer ihres Ortes, dem Layer und Objekt, aus dem sie stammen, und der Entfernung des Ortes.

GPX: name, cmt und desc heißen in GPX ebenso. Die Orte in eine Datei mit der Endung .gpx schreiben, und sie werden zu Wegpunkten in WGS 84 mit diesen drei Feldern; oder den Layer als GPX mit EPSG:4326 und nur diesen gewählten Feldern exportieren. Wegpunkte dienen zum Auffinden des Ortes, nicht zum Messen.

Sicherheit: Orte zur Nachbegehung liegen oft dort, wo beim ersten Mal Verkehr, parkende Fahrzeuge oder Mauern im Weg waren. Gesetze und Vorschriften des Straßenbaulastträgers beachten: Genehmigungen, Verkehrssicherung, Warnkleidung, Unterweisung. Mit Blick zum Verkehr gehen, ihn von jemandem beobachten lassen, beim Gehen nicht auf einen Bildschirm sehen und einen Ort auslassen, der nicht sicher erreichbar ist. Die Liste hat Kartiergenauigkeit, ebenso wie die Layer, aus denen sie entsteht.</translation>
  </message>
  <message>
   <source>List places to revisit</source>
   <translation>Orte zur Nachbegehung auflisten</translation>
  </message>
  <message>
   <source>What must be walked again, and why, as points in walking order.</source>
   <translation>Was noch einmal begangen werden muss und warum, als Punkte in der Reihenfolge des Weges.</translation>
  </message>
  <message>
   <source>revisit,again,missing,gap,rejected,uncertain,check,to do,waypoint,gpx,field,walk,route,order,completeness,curb,kerb,edge,as-built</source>
   <translation>revisit,again,missing,gap,rejected,uncertain,check,to do,waypoint,gpx,field,walk,route,order,completeness,curb,kerb,edge,as-built,Nachbegehung,erneut,fehlend,Lücke,verworfen,unsicher,prüfen,zu erledigen,Wegpunkt,Außendienst,Feldarbeit,Begehung,Route,Reihenfolge,Vollständigkeit,Bordstein,Kante,Bestandsaufnahme</translation>
  </message>
 </context>
 <context>
  <name>RoleWords</name>
  <message>
   <source>The line is not used.</source>
   <translation>Die Zeile wird nicht verwendet.</translation>
  </message>
  <message>
   <source>it cannot be split into columns ({}).</source>
   <translation>sie lässt sich nicht in Spalten zerlegen ({}).</translation>
  </message>
  <message>
   <source>it has {} columns where {} are needed ({}).</source>
   <translation>sie hat {} Spalten, wo {} nötig sind ({}).</translation>
  </message>
  <message>
   <source>it holds no words.</source>
   <translation>sie enthält keine Wörter.</translation>
  </message>
  <message>
   <source>the first line must be “{}”. The file is not used.</source>
   <translation>die erste Zeile muss „{}“ sein. Die Datei wird nicht verwendet.</translation>
  </message>
  <message>
   <source>this is no UTF-8 text; save the file as “CSV UTF-8”. The line is not used.</source>
   <translation>dies ist kein UTF-8-Text; die Datei als „CSV UTF-8“ speichern. Die Zeile wird nicht verwendet.</translation>
  </message>
  <message>
   <source>“{}” cannot be read ({}); your own names of fields are not used.</source>
   <translation>„{}“ ist nicht lesbar ({}); die eigenen Feldnamen werden nicht verwendet.</translation>
  </message>
  <message>
   <source>“{}” holds no letters.</source>
   <translation>„{}“ enthält keine Buchstaben.</translation>
  </message>
  <message>
   <source>“{}” is no match for the role {}; use one of {}.</source>
   <translation>„{}“ ist keine Art des Abgleichs für die Rolle {}; eine von {} verwenden.</translation>
  </message>
  <message>
   <source>“{}” is no role; use one of {}.</source>
   <translation>„{}“ ist keine Rolle; eine von {} verwenden.</translation>
  </message>
  <message>
   <source>“{}”, line {}: </source>
   <translation>„{}“, Zeile {}: </translation>
  </message>
 </context>
 <context>
  <name>ScreenEpochs</name>
  <message>
   <source>Parts a layer of streamed epochs in two: those that can be used for edges, and the others, each with its reason (no position, no time, not fixed, poor accuracy, repeated time, spike) and the detail in words. Every row read is in exactly one of the two layers, with all its fields.

Kept epochs also say whether they were taken standing still (“role”) and whether their height is usable (“height_used”): a height that deviates from its neighbours is dropped without the position.

This is the first step of “Reconstruct edges”, which needs no screened layer. All settings are in metres, whatever the CRS.</source>
   <translation>Teilt einen Layer mit Epochen eines Datenstroms in zwei: diejenigen, die für Kanten verwendbar sind, und die übrigen, jede mit ihrem Grund (keine Position, keine Zeit, nicht fixiert, geringe Genauigkeit, wiederholte Zeit, Ausreißer) und der Einzelheit in Worten. Jede gelesene Zeile ist in genau einem der beiden Layer, mit allen ihren Feldern.

Behaltene Epochen geben auch an, ob sie im Stillstand aufgenommen wurden („role“) und ob ihre Höhe verwendbar ist („height_used“): Eine Höhe, die von ihren Nachbarn absteht, wird verworfen, die Position nicht.

Dies ist der erste Schritt von „Kanten rekonstruieren“, das keinen geprüften Layer braucht. Alle Einstellungen sind in Metern, unabhängig vom KBS.</translation>
  </message>
  <message>
   <source>Parts the epochs that can be used from the others, with a reason for each of those.</source>
   <translation>Trennt die verwendbaren Epochen von den übrigen, mit einem Grund für jede von diesen.</translation>
  </message>
  <message>
   <source>Screen epochs</source>
   <translation>Epochen filtern</translation>
  </message>
  <message>
   <source>curb,kerb,gnss,gps,rtk,epochs,filter,quality,spike,outlier,fixed,accuracy,survey,gps line cleaning,gps cleaning</source>
   <translation>curb,kerb,gnss,gps,rtk,epochs,filter,quality,spike,outlier,fixed,accuracy,survey,gps line cleaning,gps cleaning,Bordstein,Epochen,filtern,Qualität,Ausreißer,fixiert,feste Lösung,Genauigkeit,Vermessung,GPS bereinigen</translation>
  </message>
 </context>
 <context>
  <name>Staging</name>
  <message>
   <source>it is there, and another name was given</source>
   <translation>sie ist da, und ein anderer Name war angegeben</translation>
  </message>
  <message>
   <source>no cause was given</source>
   <translation>es wurde keine Ursache angegeben</translation>
  </message>
  <message>
   <source>the disk is full</source>
   <translation>der Datenträger ist voll</translation>
  </message>
  <message>
   <source>“{}” cannot take the place of “{}”: {}. If that is open in QGIS or in another program, close it there and run again.</source>
   <translation>„{}“ kann nicht an die Stelle von „{}“ treten: {}. Falls diese Datei in QGIS oder in einem anderen Programm geöffnet ist, sie dort schließen und erneut ausführen.</translation>
  </message>
  <message>
   <source>“{}” could not be written to “{}”: {}. Make sure that there is room and that the place can be written to, or choose another one. What was there before is as it was.</source>
   <translation>„{}“ konnte nicht nach „{}“ geschrieben werden: {}. Sicherstellen, dass Platz vorhanden und der Ort beschreibbar ist, oder einen anderen wählen. Was vorher dort war, ist unverändert.</translation>
  </message>
 </context>
 <context>
  <name>StreamCheck</name>
  <message>
   <source>Layer “{}” does not look like a stream of epochs ({}); it is taken as one.</source>
   <translation>Layer „{}“ sieht nicht nach einem Datenstrom von Epochen aus ({}); er wird trotzdem als solcher verwendet.</translation>
  </message>
  <message>
   <source>Layer “{}”: is this a stream of epochs? It looks like drawn lines: {}. A stream has steps that are much alike. Choose the layer of epochs; or, if it is one, write the time into M, or set “{}” (TAKE_AS_STREAM).</source>
   <translation>Layer „{}“: Ist das ein Datenstrom von Epochen? Er sieht nach gezeichneten Linien aus: {}. Ein Datenstrom hat recht gleichmäßige Schritte. Den Layer der Epochen wählen; oder, falls es einer ist, die Zeit in M schreiben oder „{}“ (TAKE_AS_STREAM) setzen.</translation>
  </message>
  <message>
   <source>fix in field “{}”</source>
   <translation>Lösungsstatus in Feld „{}“</translation>
  </message>
  <message>
   <source>its fields are those of edges that were reconstructed already</source>
   <translation>seine Felder sind die bereits rekonstruierter Kanten</translation>
  </message>
  <message>
   <source>its fields are those of gaps between edges</source>
   <translation>seine Felder sind die von Lücken zwischen Kanten</translation>
  </message>
  <message>
   <source>no fix</source>
   <translation>kein Lösungsstatus</translation>
  </message>
  <message>
   <source>no steps between vertices</source>
   <translation>keine Schritte zwischen Stützpunkten</translation>
  </message>
  <message>
   <source>no time (M)</source>
   <translation>keine Zeit (M)</translation>
  </message>
  <message>
   <source>{} steps between vertices, median {:.2f} m, 90th percentile {:.2f} m</source>
   <translation>{} Schritte zwischen Stützpunkten, Median {:.2f} m, 90. Perzentil {:.2f} m</translation>
  </message>
 </context>
 <context>
  <name>SurveyArea</name>
  <message>
   <source>Layer “{}” has vertices without a place in the CRS of “{}”.</source>
   <translation>Layer „{}“ hat Stützpunkte ohne Ort im KBS von „{}“.</translation>
  </message>
  <message>
   <source>Layer “{}” holds no polygon. Choose another surveyed area, or leave it empty to take what lies near the edges.</source>
   <translation>Layer „{}“ enthält kein Polygon. Ein anderes aufgenommenes Gebiet wählen oder die Angabe leer lassen, damit gilt, was nahe den Kanten liegt.</translation>
  </message>
  <message>
   <source>Layer “{}” holds no polygons ({}), so it cannot be the surveyed area.</source>
   <translation>Layer „{}“ enthält keine Polygone ({}) und kann daher nicht das aufgenommene Gebiet sein.</translation>
  </message>
  <message>
   <source>Layer “{}”: {} of its polygons cross themselves or lie in each other; what is inside is guessed. Repair them (“Fix geometries” of QGIS).</source>
   <translation>Layer „{}“: {} seiner Polygone überschneiden sich selbst oder liegen ineinander; was innen ist, wird geraten. Sie reparieren („Geometrien reparieren“ von QGIS).</translation>
  </message>
  <message>
   <source>No line lies in the surveyed area “{}”: nothing counts as visited but what has a counterpart. Check its CRS and place.</source>
   <translation>Im aufgenommenen Gebiet „{}“ liegt keine Linie: Als begangen gilt nur, was ein Gegenstück hat. Sein KBS und seine Lage prüfen.</translation>
  </message>
  <message>
   <source>the polygons of “{}”, and what has a counterpart</source>
   <translation>die Polygone von „{}“ und alles, was ein Gegenstück hat</translation>
  </message>
  <message>
   <source>what lies within {:g} m of any edge</source>
   <translation>was innerhalb von {:g} m um eine Kante liegt</translation>
  </message>
  <message>
   <source>what lies within {:g} m of any epoch or edge</source>
   <translation>was innerhalb von {:g} m um eine Epoche oder Kante liegt</translation>
  </message>
 </context>
 <context>
  <name>Targets</name>
  <message>
   <source>Choose another file for “{}”.</source>
   <translation>Eine andere Datei für „{}“ wählen.</translation>
  </message>
  <message>
   <source>“{}” and “{}” would both be written to “{}”. Choose a file of its own for each of them.</source>
   <translation>„{}“ und „{}“ würden beide nach „{}“ geschrieben. Für jedes eine eigene Datei wählen.</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: GDAL takes the % in the name for a code, so the file could not be opened again. {}</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: GDAL hält das % im Namen für einen Code, und die Datei ließe sich nicht wieder öffnen. {}</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: its parts would replace {}, which is there and belongs to something else. {}</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: Die Teile würden {} ersetzen, was da ist und zu etwas anderem gehört. {}</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: that is a device. {}</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: Das ist ein Gerät. {}</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: that is a folder. {}</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: Das ist ein Ordner. {}</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: that is there, and is no HTML page. {}</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: Diese Datei gibt es schon, und sie ist keine HTML-Seite. {}</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: that is there, and is no PDF. {}</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: Dort liegt schon etwas, und es ist kein PDF. {}</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: the name holds control characters. Choose another file for “{}”.</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: Der Name enthält Steuerzeichen. Für „{}“ eine andere Datei wählen.</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: there is no folder “{}”. Make it, or choose another.</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: Es gibt keinen Ordner „{}“. Ihn anlegen oder einen anderen wählen.</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: what is written into an archive or over a network cannot be taken back when it fails. Choose a file of its own for “{}”.</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: Was in ein Archiv oder über ein Netz geschrieben wird, lässt sich nicht zurücknehmen, wenn es misslingt. Für „{}“ eine eigene Datei wählen.</translation>
  </message>
  <message>
   <source>“{}” cannot be written to “{}”: {}. {}</source>
   <translation>„{}“ kann nicht nach „{}“ geschrieben werden: {}. {}</translation>
  </message>
  <message>
   <source>“{}” would be written over layer “{}” of this project, which has edits that are not saved. Save them or take them back, or choose another place for “{}”.</source>
   <translation>„{}“ würde über Layer „{}“ dieses Projekts geschrieben, der ungespeicherte Änderungen hat. Sie speichern oder zurücknehmen oder für „{}“ einen anderen Ort wählen.</translation>
  </message>
  <message>
   <source>“{}” would be written over “{}”, which is read as “{}”. Choose another file for “{}”; in a GeoPackage another layer will do as well.</source>
   <translation>„{}“ würde „{}“ überschreiben, das als „{}“ gelesen wird. Eine andere Datei für „{}“ wählen; in einem GeoPackage genügt auch ein anderer Layer.</translation>
  </message>
  <message>
   <source>“{}” would replace all of “{}”, which holds {} layers ({}). Choose another file, or write into it as a layer of its own.</source>
   <translation>„{}“ würde „{}“ vollständig ersetzen, worin {} Layer enthalten sind ({}). Eine andere Datei wählen oder als eigenen Layer hineinschreiben.</translation>
  </message>
  <message>
   <source>“{}” would replace layer “{}” of “{}”, whose name differs from “{}” in capitals alone. Choose another name, or write “{}” if that is the one to replace.</source>
   <translation>„{}“ würde Layer „{}“ von „{}“ ersetzen, dessen Name sich von „{}“ nur in der Großschreibung unterscheidet. Einen anderen Namen wählen oder „{}“ schreiben, wenn er ersetzt werden soll.</translation>
  </message>
 </context>
 <context>
  <name>UpdateBasemap</name>
  <message>
   <source>Add those that are missing</source>
   <translation>Fehlende hinzufügen</translation>
  </message>
  <message>
   <source>All that is matched</source>
   <translation>Alles, was zugeordnet ist</translation>
  </message>
  <message>
   <source>Brings existing lines up to date by edges. A line that is displaced is redrawn where an edge runs along it, with a transition to the old line where the edge ends; over the rest it stays as it is. One edge may lie along several lines, and several edges along one.

Junctions stay junctions: where lines share an end, or one ends on another, they do so afterwards. The ends of lines that nobody walked follow their neighbours, no farther than asked. What would cross another line or itself is held back.

Edges without a counterpart are added, with the attributes that the mapping of fields gives. Lines that are gone are marked as retired, or deleted where asked; what nobody visited stays as it is, and what was visited in part is held back. Decisions in a field “decision” (accept, hold, reject) of either layer, or of the “Status of existing lines” of their comparison, are kept to.

Every change is a row of the table of changes, with the geometry before. Give that table as “Changes to take back”, with the updated layer as existing lines, to get the former layer again.

The result is of mapping grade: no boundary, no as-built certificate, not for stake-out.</source>
   <translation>Führt Bestandslinien anhand von Kanten fort. Eine verschobene Linie wird dort neu gezeichnet, wo eine Kante an ihr entlangläuft, mit einem Übergang zur alten Linie, wo die Kante endet; im Übrigen bleibt sie, wie sie ist. Eine Kante kann an mehreren Linien liegen, und mehrere Kanten an einer.

Anschlüsse bleiben Anschlüsse: Wo Linien ein Ende gemeinsam haben oder eine auf einer anderen endet, tun sie es auch danach. Die Enden von Linien, die niemand begangen hat, folgen ihren Nachbarn, höchstens so weit wie angegeben. Was eine andere Linie oder sich selbst kreuzen würde, wird zurückgestellt.

Kanten ohne Gegenstück werden hinzugefügt, mit den Attributen nach der Feldzuordnung. Weggefallene Linien werden als „retired“ gekennzeichnet oder auf Wunsch gelöscht; was niemand begangen hat, bleibt, wie es ist, und was nur zum Teil begangen wurde, wird zurückgestellt. Entscheidungen in einem Feld „decision“ (accept, hold, reject) eines der beiden Layer oder des „Status der Bestandslinien“ ihres Vergleichs werden eingehalten.

Jede Änderung ist eine Zeile der Tabelle der Änderungen, mit der Geometrie davor. Diese Tabelle als „Zurückzunehmende Änderungen“ angeben, mit dem fortgeführten Layer als Bestandslinien, um den früheren Layer wiederzuerhalten.

Das Ergebnis hat Kartiergenauigkeit: keine Grenze, kein Bestandsnachweis, nicht zur Absteckung geeignet.</translation>
  </message>
  <message>
   <source>Delete them</source>
   <translation>Löschen</translation>
  </message>
  <message>
   <source>Held back</source>
   <translation>Zurückgestellt</translation>
  </message>
  <message>
   <source>Keep them</source>
   <translation>Belassen</translation>
  </message>
  <message>
   <source>Leave them alone</source>
   <translation>Unberührt lassen</translation>
  </message>
  <message>
   <source>Lines added</source>
   <translation>Hinzugefügte Linien</translation>
  </message>
  <message>
   <source>Lines only shifted</source>
   <translation>Nur versetzte Linien</translation>
  </message>
  <message>
   <source>Lines replaced</source>
   <translation>Ersetzte Linien</translation>
  </message>
  <message>
   <source>Lines replaced in part</source>
   <translation>Teilweise ersetzte Linien</translation>
  </message>
  <message>
   <source>Lines retired</source>
   <translation>Historisierte Linien</translation>
  </message>
  <message>
   <source>Lines unchanged</source>
   <translation>Unveränderte Linien</translation>
  </message>
  <message>
   <source>Lines whose ends followed a neighbour</source>
   <translation>Linien mit nachgezogenem Ende</translation>
  </message>
  <message>
   <source>Mark them</source>
   <translation>Kennzeichnen</translation>
  </message>
  <message>
   <source>The basemap again, with what moved replaced, what is new added and what is gone retired; every id and attribute kept.</source>
   <translation>Wiederum die Bestandskarte: Verschobenes ersetzt, Neues hinzugefügt, Weggefallenes historisiert; jede Kennung und jedes Attribut bleibt erhalten.</translation>
  </message>
  <message>
   <source>Update existing linework</source>
   <translation>Bestandslinien fortführen</translation>
  </message>
  <message>
   <source>What is displaced</source>
   <translation>Was verschoben ist</translation>
  </message>
  <message>
   <source>Write those that are there</source>
   <translation>Vorhandene schreiben</translation>
  </message>
  <message>
   <source>update,basemap,map update,conflate,replace,merge,adopt,curb,kerb,edge,linework,undo,retire,as-built,kerbline</source>
   <translation>update,basemap,map update,conflate,replace,merge,adopt,curb,kerb,edge,linework,undo,retire,as-built,kerbline,Fortführung,fortführen,aktualisieren,Bestandskarte,Kartenfortführung,ersetzen,zusammenführen,übernehmen,Bordstein,Kante,Bestandslinien,rückgängig,historisieren,Bestandsaufnahme,Bordlinie</translation>
  </message>
 </context>
 <context>
  <name>UpdateRows</name>
  <message>
   <source>Layer “{}”: its own field “{}” takes no text, which an update writes there. Give it another name, or leave it out.</source>
   <translation>Layer „{}“: Sein eigenes Feld „{}“ nimmt keinen Text auf, den eine Fortführung dort einträgt. Benennen Sie es um, oder lassen Sie es weg.</translation>
  </message>
  <message>
   <source>Lines with arcs that were redrawn: {}. They keep the arcs outside the redrawn stretch; inside it they have those of the edges, else short chords. All other lines keep their arcs.</source>
   <translation>Neu gezeichnete Linien mit Bögen: {}. Sie behalten die Bögen außerhalb des neu gezeichneten Abschnitts; darin haben sie die der Kanten, sonst kurze Sehnen. Alle anderen Linien behalten ihre Bögen.</translation>
  </message>
  <message>
   <source>an end goes along with a neighbour that moved</source>
   <translation>ein Ende folgt einem verschobenen Nachbarn</translation>
  </message>
  <message>
   <source>displaced along its length</source>
   <translation>auf ganzer Länge verschoben</translation>
  </message>
  <message>
   <source>displaced along the stretch that was walked</source>
   <translation>auf dem begangenen Abschnitt verschoben</translation>
  </message>
  <message>
   <source>no edge runs along the line</source>
   <translation>keine Kante verläuft entlang der Linie</translation>
  </message>
  <message>
   <source>no existing line lies along the edge</source>
   <translation>keine Bestandslinie liegt an der Kante</translation>
  </message>
  <message>
   <source>the whole layer is shifted</source>
   <translation>der ganze Layer ist versetzt</translation>
  </message>
 </context>
 <context>
  <name>VertexTimes</name>
  <message>
   <source>M as milliseconds would still mean {:.2g} m/s</source>
   <translation>M in Millisekunden hieße immer noch {:.2g} m/s</translation>
  </message>
  <message>
   <source>M as seconds would mean {:.4g} m/s</source>
   <translation>M in Sekunden hieße {:.4g} m/s</translation>
  </message>
  <message>
   <source>M goes up and down along the lines</source>
   <translation>M steigt und fällt entlang der Linien</translation>
  </message>
  <message>
   <source>M grows with the distance ({:.4g} to a metre), as chainage does</source>
   <translation>M wächst mit dem Weg ({:.4g} je Meter), wie es eine Stationierung tut</translation>
  </message>
  <message>
   <source>M is the same at all vertices of a line</source>
   <translation>M ist an allen Stützpunkten einer Linie gleich</translation>
  </message>
  <message>
   <source>Time: the M values of the vertices, read as: {}.</source>
   <translation>Zeit: die M-Werte der Stützpunkte, gelesen als: {}.</translation>
  </message>
  <message>
   <source>Time: {}, so the order of the vertices stands for it, one second to a vertex. Lines are broken at long steps, not at pauses; fields of time stay empty, and “seconds” counts vertices. Every part of a line is a capture by itself.</source>
   <translation>Zeit: {}, daher steht die Reihenfolge der Stützpunkte dafür, eine Sekunde je Stützpunkt. Linien werden bei langen Schritten unterbrochen, nicht bei Pausen; Zeitfelder bleiben leer, und „seconds“ zählt Stützpunkte. Jeder Teil einer Linie ist eine Aufnahme für sich.</translation>
  </message>
  <message>
   <source>Vertices with the M value 0 among times since 1970, which count as having no time: {}.</source>
   <translation>Stützpunkte mit dem M-Wert 0 unter Zeiten seit 1970, die als ohne Zeit gelten: {}.</translation>
  </message>
  <message>
   <source>Vertices without an M value, which count as having no time: {}.</source>
   <translation>Stützpunkte ohne M-Wert, die als ohne Zeit gelten: {}.</translation>
  </message>
  <message>
   <source>first values: {}</source>
   <translation>erste Werte: {}</translation>
  </message>
  <message>
   <source>from an origin of their own</source>
   <translation>von einem eigenen Nullpunkt an</translation>
  </message>
  <message>
   <source>milliseconds</source>
   <translation>Millisekunden</translation>
  </message>
  <message>
   <source>no vertex has an M value</source>
   <translation>kein Stützpunkt hat einen M-Wert</translation>
  </message>
  <message>
   <source>overruns: {}</source>
   <translation>Überläufe: {}</translation>
  </message>
  <message>
   <source>seconds</source>
   <translation>Sekunden</translation>
  </message>
 </context>
 <context>
  <name>Walks</name>
  <message>
   <source>Layer “{}”: field “{}” must hold an uncertainty in metres, greater than 0, for “{}”, but holds “{}” (rows: {}). Choose another field, correct the values, or empty them.</source>
   <translation>Layer „{}“: Feld „{}“ muss eine Unsicherheit in Metern, größer als 0, für „{}“ enthalten, enthält aber „{}“ (Zeilen: {}). Ein anderes Feld wählen, die Werte berichtigen oder sie leeren.</translation>
  </message>
  <message>
   <source>unknown</source>
   <translation>unbekannt</translation>
  </message>
  <message>
   <source>{}: field “{}”, median {}; rows without a value: {}.</source>
   <translation>{}: Feld „{}“, Median {}; Zeilen ohne Wert: {}.</translation>
  </message>
  <message>
   <source>{}: no field; all walks count alike, and the uncertainty follows from their differences.</source>
   <translation>{}: kein Feld; alle Begehungen zählen gleich, und ihre Differenzen ergeben die Unsicherheit.</translation>
  </message>
 </context>
 <context>
  <name>Writing</name>
  <message>
   <source>Layer “{}” changed while it was read. Rows expected: {}, found: {}. Run again when nobody edits it.</source>
   <translation>Layer „{}“ hat sich während des Lesens geändert. Erwartete Zeilen: {}, gefundene: {}. Erneut ausführen, wenn niemand ihn bearbeitet.</translation>
  </message>
 </context>
</TS>
