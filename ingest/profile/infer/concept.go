package infer

import "strings"

// A concept is a set of what words of a header may mean.
type concept uint64

const (
	ofPack concept = 1 << iota // places
	ofCell
	ofCharger
	ofGrid
	ofHeater
	ofCabin
	ofAmbient
	ofAir
	ofStation
	ofHandheld
	ofCoolant
	ofAux
	ofMotor

	isTemp // quantities
	isPower
	isVolt
	isAmp
	isEnergy
	isSoC
	isRange
	isSpeed
	isOdo
	isDew
	isWind
	isRain
	isTime

	asMin // how the quantity is meant
	asMax
	asMean
	asDisplayed
	asInternal
	asLimit
	asCharge
	asRate
	asOut
	asLevel
	asRegister
	asRemaining
	asLow

	isOther // names what no channel holds
	neutral // says nothing
	foreign // of a language whose speakers count in kilometres
)

const (
	places     = ofPack | ofCell | ofCharger | ofGrid | ofHeater | ofCabin | ofAmbient | ofAir | ofStation | ofHandheld | ofCoolant | ofAux | ofMotor
	quantities = isTemp | isPower | isVolt | isAmp | isEnergy | isSoC | isRange | isSpeed | isOdo | isDew | isWind | isRain
)

// vocabulary is what words mean, without case and accents, in English, then in
// German, French, Norwegian and Danish, Dutch, Swedish.
var vocabulary = func() map[string]concept {
	m := map[string]concept{}
	add := func(c concept, words string) {
		for _, w := range strings.Fields(words) {
			m[w] |= c
		}
	}
	for _, v := range english {
		add(v.c, v.words)
	}
	for _, v := range abroad {
		add(v.c|foreign, v.words)
	}
	return m
}()

type meaning struct {
	c     concept
	words string
}

var english = []meaning{
	{ofPack | asInternal, "bms"},
	{ofPack, "pack batt bat battery batteries hv hvb ess ress traction trac rechargeable"},
	{ofCell, "cell cells module modules mod"},
	{ofCharger, "charger evse dispenser connector inlet plug chargepoint dcfc hpc stall pedestal secc post cable"},
	{ofCharger | asOut, "output outlet"},
	{ofGrid, "grid mains utility"},
	{ofHeater, "heater heaters heat heating ptc htr"},
	{ofCabin, "cabin interior inside indoor cab passenger hvac climate"},
	{ofAmbient, "ambient amb outside outdoor oat exterior ext environment"},
	{ofAir, "air"},
	{ofStation, "station weather met"},
	{ofHandheld, "handheld thermometer probe"},
	{ofCoolant, "coolant glycol brine"},
	{ofAux, "aux auxiliary auxiliaries accessory accessories dcdc lv others"},
	{ofMotor, "motor engine inverter rotor stator gearbox axle drivetrain mcu obc"},

	{isTemp, "temp temperature temperatures tmp temps"},
	{isPower, "power pwr pow watt watts"},
	{isVolt, "voltage volt volts vdc"},
	{isAmp, "current cur curr amps amp ampere amperes adc"},
	{isEnergy, "energy nrg"},
	{isEnergy | ofCharger, "delivered dispensed"},
	{isSoC, "soc"},
	{isRange, "range dte"},
	{isSpeed, "speed velocity spd"},
	{isOdo, "odometer odo mileage milometer"},
	{isDew, "dewpoint dew"},
	{isWind, "wind"},
	{isRain, "rain rainfall precipitation precip snowfall"},
	{isTime, "time timestamp datetime date clock elapsed seconds uptime ts stamp epoch utc when hours minutes millis sec"},

	{asMin, "min lo minimum minimal coldest cold lowest cooler coolest"},
	{asMax, "max hi maximum maximal hottest hot highest warmest peak"},
	{asMean, "mean avg average ave"},
	{asDisplayed, "display displayed disp dash dashboard shown gui cluster instrument hmi indicated"},
	{asInternal, "internal raw real true absolute gross"},
	{asLimit, "limit lim limits allowed permitted allowable offered offer capability"},
	{asLimit | asRemaining, "available avail"},
	{asCharge, "charge charging chg chrg charged"},
	{asRate, "rate"},
	{asOut, "out"},
	{asLevel, "level lvl"},
	{asRegister, "register meter total cumulative cum sum counter session added import"},
	{asRemaining, "remaining remain left rest usable"},
	{asLow, "low"},
	{neutral, "value signal sig the of and in at by for from to into via main net instantaneous inst actual dc ac ev car vehicle veh reading measured meas data channel log sensor point gps drive"},

	{isTemp | asMin, "tmin tcold mintemp tlow"},
	{isTemp | asMax, "tmax thot maxtemp"},
	{isTemp | asMean, "tavg tmean"},
	{isTemp | ofAmbient, "tamb tair tout"},
	{isTemp | ofPack, "tbat tbatt tpack"},
	{isTemp | ofCabin, "tcab tcabin"},
	{isVolt | ofPack, "vbat vbatt ubat ubatt vpack upack"},
	{isAmp | ofPack, "ibat ibatt ipack"},
	{isPower | ofPack, "pbat pbatt ppack"},

	{isOther, "delta diff difference spread imbalance gradient target set setpoint request requested req demand desired cmd command status state mode error fault flag alarm warning " +
		"cycle cycles index id nr no count cnt lat lon latitude longitude alt altitude elevation heading soh health capacity cap ah tire tyre torque rpm resistance insulation impedance phase " +
		"frequency humidity rh hygro pressure baro qnh price cost tariff gust gusts direction dir consumption economy efficiency pump fan valve checksum crc brake pedal accelerator throttle gear chill " +
		"duration eta duty signal_quality rssi acceleration pitch roll regen discharge discharging fuel oil intake user operator comment remark note notes"},
}

var abroad = []meaning{
	{ofPack, "batterie akku hochvolt hochvoltbatterie traktionsbatterie traktions traktion hochvoltspeicher batteri batteriet batteripakke batteripakken batterij accu accupakket tractie fremdriftsbatteri drivbatteri"},
	{ofCell, "zelle zellen zell modul cellule cellules celle celler cellen cel moduul"},
	{ofCharger, "lader ladegerat ladegeraet ladesaule ladesaeule saule saeule stecker ladestation ladepunkt borne chargeur prise kabel stekker plugg laadpaal laadstation lader oplader laadpunt ladestasjon ladestolpe stolpe laddare laddaren laddstation laddstolpe ladepunkt"},
	{ofGrid, "netz netzbezug stromnetz reseau nett nettet stromnett elnat natet stroomnet"},
	{ofHeater, "heizung heiz heizer heizelement heizgerat chauffage chauffe rechauffeur varmer varmeren varme varmeapparat varmeelement varmare varmaren verwarming verwarmer verwarmings"},
	{ofCabin, "innenraum innen fahrgastraum kabine habitacle kupe kupeen kupé interieur inne inomhus klima klimaanlage klimaanlegg clim climatisation airco kupetemperatur binnen"},
	{ofAmbient, "aussen draussen aussenluft umgebung umgebungs exterieur exterieure ambiant ambiante dehors ute utendors uteluft omgivelse omgivelses omgivning omgivnings utomhus utomhusluft utelufts buiten buitenlucht omgeving omgevings udendors udetemperatur"},
	{ofAir, "luft lucht aussenluft"},
	{ofStation, "wetterstation wetter meteo vaer vaerstasjon vader vaderstation weerstation weer"},
	{ofCoolant, "kuhlmittel kuehlmittel kuhlwasser kuehlwasser kuhlflussigkeit kjolevaeske kjolevann kylvatska kylvatten koelvloeistof koelwater koelmiddel refroidissement kolevaeske"},
	{ofAux, "nebenverbraucher nebenaggregate bordnetz sonstige accessoires auxiliaires autres tilbehor ovrige ovrigt hulpverbruikers overig tillbehor"},
	{ofMotor, "moteur wechselrichter onduleur omvormer vaxelriktare vekselretter getriebe antrieb antriebs"},

	{isTemp, "temperatur temperaturen temperaturer temperatuur"},
	{isPower, "leistung leistungs puissance effekt effekten vermogen"},
	{isVolt, "spannung tension spenning spenningen spanning spaending"},
	{isAmp, "strom stromstarke stromstaerke courant intensite stroom stromstyrke stroomsterkte"},
	{isEnergy, "energie energi energimengde energimangd energiemenge"},
	{isSoC, "ladezustand ladestand akkustand batteriestand ladetilstand ladeniva batteriniva laadtoestand laadniveau laadstatus laddstatus laddniva laddtillstand laddningsgrad ladegrad ladningsgrad batterijniveau accuniveau"},
	{isRange, "reichweite restreichweite autonomie rekkevidde rackvidd actieradius bereik raekkevidde"},
	{isSpeed, "geschwindigkeit vitesse hastighet snelheid fart hastighed"},
	{isOdo, "kilometerstand kmstand kilometerteller kilometertelling odometre kilometrage matarstallning tachostand"},
	{isDew, "taupunkt rosee duggpunkt daggpunkt dauwpunt dugpunkt"},
	{isWind, "vent vind vindhastighet windgeschwindigkeit windsnelheid vindstyrke"},
	{isRain, "niederschlag niederschlage nedbor nederbord neerslag precipitations pluie regn"},
	{isTime, "zeit uhrzeit datum zeitstempel heure horodatage temps_ecoule tid tidspunkt klokkeslett dato tidsstempel tijd tijdstip tijdstempel klockslag laufzeit sekunden"},

	{asMin, "niedrigste kalteste kaelteste kleinste minimale mini froide laveste kaldeste kaldest lagsta kallaste laagste koudste"},
	{asMax, "hochste hoechste warmste waermste grosste maximale maxi chaude hoyeste varmeste varmest hogsta varmaste hoogste heetste maks"},
	{asMean, "mittel mittelwert mittlere durchschnitt moyenne moyen gjennomsnitt snitt middel medel medelvarde gemiddelde gemiddeld gem"},
	{asDisplayed, "anzeige angezeigt affiche affichee vist visning visad weergegeven kombiinstrument"},
	{asInternal, "intern interne reell ekte verklig werkelijk reel reelle brutto"},
	{asLimit, "grenze begrenzung zulassig zulassige zulaessig erlaubt erlaubte limite autorisee admissible grense tillatt grans tillaten tillatna toegestaan toegestane limiet"},
	{asCharge, "laden lade ladung ladevorgang recharge lading ladda laddning ladd laddnings laad opladen geladen geladene opladning"},
	{asLevel, "niveau niva stand fullstand"},
	{asRegister, "zahler zaehler zahlerstand compteur teller tellerstand malerstand gesamt totale totalt totaal"},
	{asRemaining, "verbleibend verbleibende restant restante gjenvaerende aterstaende resterende"},
	{neutral, "wert de la le du des d l der die das ist av til fra van het och og"},

	{isTemp | ofAmbient, "utetemperatur utetemp yttertemperatur yttertemp buitentemperatuur aussentemp"},

	{isOther, "angefordert angeforderter angeforderte demande demandee gevraagd gevraagde begard forespurt differenz spreizung ecart forskjell skillnad verschil soll sollwert wunsch consigne cible onsket borvarde streef gewenst gewenste zustand etat tilstand modus fehler storung " +
		"kapazitat kapazitaet capacite kapasitet kapacitet capaciteit reifen pneu pneus dekk dack banden drehmoment couple dreiemoment drehzahl widerstand innenwiderstand motstand weerstand isolation " +
		"frequenz frequence frekvens feuchte luftfeuchte luftfeuchtigkeit humidite fuktighet luftfuktighet vochtigheid druck luftdruck pression trykk lufttrykk tryck lufttryck druk luchtdruk preis kosten prix pris prijs " +
		"boe boen rafale rafales vindkast windstoten richtung windrichtung retning vindretning riktning vindriktning windrichting verbrauch consommation forbruk forbrukning verbruik lufter luefter pumpe hohe hoehe restzeit gesundheit"},
}

// phrases are meanings that take several words, as their words stand when folded.
var phrases = strings.NewReplacer(
	" state of charge ", " soc ", " state charge ", " soc ", " etat de charge ", " soc ", " etat charge ", " soc ", " niveau de charge ", " soc ", " niveau de batterie ", " soc ",
	" niveau batterie ", " soc ", " charge level ", " soc ", " battery level ", " soc ", " point de rosee ", " dewpoint ", " dew point ", " dewpoint ",
	" low voltage ", " lv ", " 12 v ", " lv ", " time left ", " eta ", " time to ", " eta ", " time remaining ", " eta ", " haute tension ", " hv ", " high voltage ", " hv ", " hoge spanning ", " hv ",
	" charge point ", " chargepoint ", " charging station ", " chargepoint ", " charge station ", " chargepoint ", " borne de recharge ", " chargepoint ", " dc dc ", " dcdc ",
	" usable energy ", " capacity ", " state of health ", " soh ", " set point ", " setpoint ", " power factor ", " phase ", " cos phi ", " phase ",
)

// folded writes a text without case and accents.
func folded(s string) string { return folding.Replace(strings.ToLower(s)) }

var folding = strings.NewReplacer("ä", "a", "á", "a", "à", "a", "â", "a", "å", "a", "æ", "ae", "ö", "o", "ø", "o", "ó", "o", "ô", "o", "ü", "u", "ú", "u", "û", "u", "ù", "u",
	"é", "e", "è", "e", "ê", "e", "ë", "e", "í", "i", "î", "i", "ï", "i", "ß", "ss", "ç", "c", "ñ", "n")
