package simroom

import (
	"math"

	"recoat/drying/air"
	"recoat/drying/wood"
	"recoat/sensors"
)

// advance does one inner step: every flow is taken from the state at its
// start, and booked once where it leaves and once where it arrives.
func (r *Room) advance() {
	r.applyDue()
	r.outdoors = r.weather.at(r.now)
	r.occupied, r.doorOpen = r.crew.step(r.now, subStep)
	r.heating = r.burner.step(r.now, subStep, r.temperature, r.occupied)
	a := r.ambient()

	heat, vapour := r.acrossBoundary(subStep.Seconds())
	r.ledger.energy(heat + latentHeat*vapour)
	r.ledger.water(vapour)
	for _, b := range r.boards {
		h, v := b.step(subStep, a)
		heat, vapour = heat+h, vapour+v
	}
	// Wood, panes and fittings hold no heat of their own here: what they take
	// up or give off in vapour, the air gains or loses in heat.
	inside := r.fromWood(subStep.Seconds()) + r.fromPane(a) + r.fromFittings(a)
	heat, vapour = heat-latentHeat*inside, vapour+inside

	r.temperature += sensors.Celsius(heat / r.cfg.HeatCapacity)
	r.vapour += vapour
	r.shedExcess()
	r.now = r.now.Add(subStep)
}

// acrossBoundary gives the sensible heat in joules and the vapour in
// kilograms that enter over dt seconds from outside and from people.
func (r *Room) acrossBoundary(dt float64) (heat, vapour float64) {
	changes := r.cfg.AirChange
	if r.doorOpen {
		changes = r.cfg.DoorAirChange
	}
	flow := changes / 3600 * r.dryAir() // kg/s
	watts := r.heating + (r.cfg.WallUA+r.cfg.WindowUA+flow*airHeat)*float64(r.outdoors.temperature.Sub(r.temperature))
	perSecond := r.cfg.Vapour/3600 + flow*(r.outdoors.humidityRatio()-r.humidityRatio())
	if r.occupied {
		watts += r.cfg.Work.Heat
		perSecond += r.cfg.Work.Vapour / 3600
	}
	return watts * dt, perSecond * dt
}

// fromWood is the vapour the wood store gives off over dt seconds, in kg.
func (r *Room) fromWood(dt float64) float64 {
	if r.cfg.Wood.Mass == 0 {
		return 0
	}
	goal := wood.EMC(r.temperature, r.Humidity()) / 100
	change := (goal - r.moisture) * dt / r.cfg.Wood.Lag.Seconds()
	r.moisture += change
	return -change * r.cfg.Wood.Mass
}

// fromPane is the vapour that leaves the window panes, in kg; negative for dew.
func (r *Room) fromPane(a ambient) float64 {
	if r.cfg.WindowArea == 0 {
		return 0
	}
	u := min(r.cfg.WindowUA/r.cfg.WindowArea, 1/paneResistance)
	drop := u * paneResistance * float64(a.temperature.Sub(r.outdoors.temperature))
	flux := r.pane.dry(subStep, a.temperature.Add(sensors.Kelvins(-drop)), a.vapour, a.speed)
	return flux * r.cfg.WindowArea * subStep.Seconds()
}

func (r *Room) fromFittings(a ambient) float64 {
	return r.fittings.dry(subStep, a.temperature, a.vapour, a.speed) * r.fittingsArea() * subStep.Seconds()
}

// fittingsArea is one side of a cube with the room's volume, in m².
func (r *Room) fittingsArea() float64 { return math.Pow(r.cfg.Volume, 2.0/3) }

// shedExcess puts the vapour above saturation on the fittings as dew, with its
// heat to the air. The heat raises saturation meanwhile, by the slope below.
func (r *Room) shedExcess() {
	const step = 0.01
	full := r.dryAir() * air.HumidityRatio(r.temperature, 100, r.outdoors.pressure)
	if r.vapour <= full {
		return
	}
	warmer := r.dryAir() * air.HumidityRatio(r.temperature.Add(step), 100, r.outdoors.pressure)
	slope := (warmer - full) / step
	excess := (r.vapour - full) / (1 + slope*latentHeat/r.cfg.HeatCapacity)
	r.vapour -= excess
	r.temperature += sensors.Celsius(latentHeat * excess / r.cfg.HeatCapacity)
	r.fittings.water += excess / r.fittingsArea()
}

func (r *Room) dryAir() float64 { return airDensity * r.cfg.Volume }

func (r *Room) humidityRatio() float64 { return r.vapour / r.dryAir() }

func (r *Room) ambient() ambient {
	a := ambient{temperature: r.temperature, vapour: r.vapourPressure(), speed: r.cfg.AirSpeed}
	if r.doorOpen {
		a.speed = r.cfg.DoorAirSpeed
	}
	return a
}

func (r *Room) vapourPressure() sensors.Pascals {
	return air.VapourPressure(r.temperature, r.Humidity())
}
